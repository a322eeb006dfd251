/**
 * One sketch fills the desk: photograph below, shapes above, pencil marks over them.
 *
 * `chosen` holds the names of the areas that are taken at the moment. What is shown at once, before the server
 * has drawn it, is a change of `drawing` (`change`); the server's drawing replaces it, and so does `again` when
 * a decision is refused.
 */

import { withRules } from "../edits/areas.js";
import { refused, shown, usable } from "../marks.js";
import { getDrawing, TAKEN } from "../server.js";
import { glide } from "../surface/glide.js";
import { View } from "../surface/view.js";
import { Layers } from "./layers.js";
import { showCorrections } from "./corrections.js";
import { showMarks } from "./marked.js";
import { showNodes } from "./nodes.js";
import { amiss, showNotes } from "./notes.js";
import { outline } from "./overlay.js";
import { paperOf, showBox, showPhotograph } from "./paper.js";
import { areaAt, areaOf, sameAs, showShapes } from "./shapes.js";
import { Trying } from "./trying.js";

/** @import { Box, Drawing, Edit, Point, Shape } from "../contract.js" */
/** @import { Desk } from "../desk.js" */
/** @import { Contact } from "../surface/pointers.js" */

export class Sketch extends Layers {
  /**
   * @param {Desk} desk
   * @param {SVGSVGElement} surface
   * @param {string} name of the sticker
   * @param {DOMRect | null} from where its sticker lies on the screen
   */
  constructor(desk, surface, name, from) {
    super();
    this.desk = desk;
    this.surface = surface;
    this.name = name;
    this.from = from;
    /** @type {Drawing | null} */
    this.drawing = null;
    /** @type {Drawing | null} as the server has it */
    this.confirmed = null;
    /** @type {Set<string>} */
    this.chosen = new Set();
    this.view = new View(() => this.moved());
    this.trying = new Trying(
      name,
      (drawing) => this.show(drawing),
      (error) => desk.refuse(error),
    );
    this.world.addEventListener("pointerover", (event) => this.hovered(event.target));
    this.world.addEventListener("pointerleave", () => this.hovered(null));
    this.world.addEventListener("focusin", (event) => this.hovered(event.target));
    this.world.addEventListener("focusout", () => this.hovered(null));
  }

  /** Fetch the drawing and show it; the photograph is shown at once. */
  async open() {
    this.surface.append(this.world);
    this.surface.after(this.notes);
    this.surface.setAttribute("aria-label", `Sketch of ${this.name}`);
    const isTraced = this.desk.sticker(this.name)?.state === "ready";
    await Promise.all([isTraced || this.showPhotograph(TAKEN), this.follow()]);
    usable();
  }

  close() {
    this.world.remove();
    this.notes.remove();
  }

  say() {
    showNotes(this.notes, amiss(this.desk, this.name, this.drawing));
  }

  /** The server may have another drawing: fetch it if so. */
  async follow() {
    const sticker = this.desk.sticker(this.name);
    this.say();
    if (sticker?.state === "failed") refused();
    if (!sticker || sticker.state !== "ready" || (this.confirmed && sticker.token === this.confirmed.token))
      return;
    try {
      const drawing = await getDrawing(this.name);
      if (!drawing) return;
      const first = this.confirmed === null;
      this.confirmed = drawing;
      this.show(drawing);
      if (first) this.arrive();
    } catch (error) {
      this.desk.refuse(error);
    }
  }

  /** Come up from where its sticker lay on the sheet. */
  arrive() {
    const figure = this.figure();
    if (figure && this.from) glide(this.view, figure, this.from, this.room());
    else this.fit();
    this.from = null;
  }

  /** Show the server's drawing again: something that was shown did not come to pass. */
  again() {
    if (this.confirmed) this.show(this.confirmed);
  }

  /**
   * Show a drawing: the server's, or one that is only tried.
   *
   * @param {Drawing} drawing
   * @param {string[]} [kinds] of decisions that it shows; left out: all that wait
   */
  show(drawing, kinds = []) {
    const before = this.drawing;
    this.drawing = drawing;
    if (before) this.view.keep(before.page, drawing.page);
    const { x_mm, y_mm, width_mm, height_mm } = paperOf(drawing);
    showBox(this.paper, { x_mm, y_mm, width_mm, height_mm });
    showBox(this.photograph, drawing.page);
    if (drawing.photograph) void this.showPhotograph(drawing.photograph);
    showShapes(this.fills, drawing.fills, (shape) => this.colourOf(shape));
    showShapes(this.lines, drawing.lines, () => "");
    showMarks(this.marks, drawing);
    showCorrections(this);
    this.choose(
      [...this.chosen]
        .map((name) => sameAs(before, name, drawing)?.name)
        .filter((name) => name !== undefined),
    );
    this.say();
    shown(...kinds);
    this.dispatchEvent(new Event("drawing"));
  }

  /**
   * Show a change at once, before the server has drawn it.
   *
   * @param {string} kind of decision that it shows; "none" where the server alone can show it
   * @param {(shape: Shape) => Shape} change of each fill
   */
  change(kind, change) {
    if (this.drawing) this.show({ ...this.drawing, fills: this.drawing.fills.map(change) }, [kind]);
  }

  /** What edits of its areas are made of. */
  areas() {
    return {
      sticker: this.name,
      rules: this.desk.table(this.name).area ?? [],
      fills: this.drawing?.fills ?? [],
    };
  }

  /**
   * Make a decision on this sketch; what was shown of it at once goes if it is refused.
   *
   * @param {string} words
   * @param {Edit[]} edits
   */
  async decide(words, edits) {
    if (edits.length === 0) return;
    const fills = withRules(this.areas(), edits);
    if (this.drawing) this.drawing = { ...this.drawing, fills };
    if (!(await this.desk.decide(words, edits))) this.again();
  }

  /**
   * Show what would be, while a number is dragged.
   *
   * @param {Edit[]} edits
   */
  attempt(edits) {
    this.trying.ask(edits);
  }

  /** What is tried is decided, or given up. */
  stopAttempt() {
    this.trying.stop();
  }

  /**
   * Take areas, and only them.
   *
   * @param {Iterable<string>} names
   */
  choose(names) {
    this.chosen = new Set(names);
    const shapes = [...this.chosen]
      .map((name) => areaOf(this.drawing, name))
      .filter((shape) => shape !== undefined);
    outline(this.pencil, shapes, "chosen");
    this.showNodes();
  }

  /** All of the figure, as large as the desk lets it be. */
  fit() {
    const figure = this.figure();
    if (figure) this.view.fit(figure, this.room());
  }

  /**
   * Where the figure lies on the paper.
   *
   * @returns {Box | null}
   */
  figure() {
    if (!this.drawing) return null;
    const { x, y, width, height } = this.shapes.getBBox();
    return width > 0 ? { x_mm: x, y_mm: y, width_mm: width, height_mm: height } : paperOf(this.drawing);
  }

  /** @param {number} share how much of the shapes is to be seen, 0 to 1 */
  shine(share) {
    this.shapes.style.opacity = String(share);
  }

  /**
   * The area at a contact, if any.
   *
   * @param {Contact} contact
   * @returns {Shape | undefined}
   */
  areaAt(contact) {
    return areaAt(this.drawing, contact.target);
  }

  /**
   * A point of the drawing as fractions of the photographed page, as the job file has it.
   *
   * @param {number} x_mm
   * @param {number} y_mm
   * @returns {Point}
   */
  toFractions(x_mm, y_mm) {
    const page = this.drawing?.page ?? { x_mm: 0, y_mm: 0, width_mm: 1, height_mm: 1 };
    return [round((x_mm - page.x_mm) / page.width_mm), round((y_mm - page.y_mm) / page.height_mm)];
  }

  /**
   * The name of a shape's colour, or its value.
   *
   * @param {Shape} shape
   * @returns {string}
   */
  colourOf(shape) {
    const given = shape.rule === null ? undefined : this.desk.table(this.name).area?.[shape.rule]?.fill;
    if (typeof given === "string") return given;
    return this.desk.state.colours.find((colour) => colour.screen === shape.fill)?.name ?? shape.fill;
  }

  /** @param {EventTarget | null} target */
  hovered(target) {
    const area = areaAt(this.drawing, target instanceof Element ? target : null);
    outline(this.pencil, area ? [area] : [], "hovered");
  }

  moved() {
    this.world.setAttribute("transform", this.view.transform);
    this.world.style.setProperty("--px", `${1 / this.view.scale}px`);
    cancelAnimationFrame(this.soon);
    this.soon = requestAnimationFrame(() => this.showNodes());
    this.dispatchEvent(new Event("moved"));
  }

  soon = 0;

  showNodes() {
    const { clientWidth, clientHeight } = this.surface;
    const [x_mm, y_mm] = this.view.toPaper(0, 0);
    const seen = {
      x_mm,
      y_mm,
      width_mm: clientWidth / this.view.scale,
      height_mm: clientHeight / this.view.scale,
    };
    showNodes(this.nodes, this.drawing, { view: this.view, chosen: this.chosen, seen });
  }

  /** @param {string} token names the page as it was laid flat */
  async showPhotograph(token) {
    if (!this.desk.sticker(this.name)?.sketch) return;
    const box = await showPhotograph(this.photograph, this.name, token);
    if (!box || this.drawing) return;
    showBox(this.paper, box);
    showBox(this.photograph, box);
    this.view.fit(box, this.room());
  }

  /** The part of the screen that the foot leaves. */
  room() {
    return { x: 40, y: 24, width: this.surface.clientWidth - 80, height: this.surface.clientHeight - 104 };
  }
}

/** Places are written with four decimals: two hundredths of a millimetre on a page of A4. */
const round = (/** @type {number} */ value) => Math.round(value * 1e4) / 1e4;
