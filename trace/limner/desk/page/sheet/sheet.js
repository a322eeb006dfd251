/** The sheet lies on the desk at true proportions, its stickers on it; sketches without a place wait below it. */

import { assign, html, svg } from "../dom.js";
import { canBePlaced, tableOf } from "../edits/places.js";
import { shown, usable } from "../marks.js";
import { getSheet } from "../server.js";
import { showNotes } from "../sketch/notes.js";
import { View } from "../surface/view.js";
import { emptyDesk } from "./empty.js";
import { showFindings } from "./findings.js";
import { Letters } from "./letters.js";
import { Margins } from "./margins.js";
import { merged } from "./merged.js";
import { changedColours, recoloured } from "./recolour.js";
import { Ring } from "./ring.js";
import { SoftMarks } from "./soft.js";
import { pose, showStickers } from "./stickers.js";
import { showWaiting } from "./waiting.js";

/** @import { Colour, Sheet as SheetValue, SheetSticker } from "../contract.js" */
/** @import { Contact } from "../surface/pointers.js" */
/** @import { Moving } from "./moving.js" */
/** @import { Pose } from "./outlines.js" */
/** @typedef {{pose: Pose, saved: boolean}} Held where a sticker is seen until the server's sheet has it there */
/** @typedef {(contact: Contact) => void} Placing */
/** @typedef {{width_mm: number, height_mm: number, background?: string | null}} PageSize */
/** @import { Here } from "../here.js" */

export class Sheet {
  /**
   * @param {Here} here
   * @param {HTMLElement} container
   */
  constructor(here, container) {
    this.here = here;
    /** @type {SheetValue | null} */
    this.sheet = null;
    this.page = svg("rect", { class: "page" });
    this.margins = new Margins();
    this.ring = new Ring();
    this.soft = new SoftMarks();
    this.stickers = svg("g", { role: "group", "aria-label": "Stickers" });
    this.letters = new Letters(here);
    this.findings = svg("g", { role: "group", "aria-label": "To be mended" });
    this.world = svg("g", {}, this.margins.below, this.page, this.stickers, this.letters.element);
    this.world.append(this.margins.above, this.soft.element, this.findings, this.ring.element);
    this.waiting = html("div", { class: "waiting", role: "group", "aria-label": "Waiting sketches" });
    this.notes = html("div", { class: "notes", role: "group", "aria-live": "polite", "aria-label": "Notes" });
    this.empty = emptyDesk(here);
    this.container = container;
    this.view = new View(() => {
      this.world.setAttribute("transform", this.view.transform);
      for (const group of [this.findings, this.soft.element]) {
        group.style.setProperty("--px", `${1 / this.view.scale}px`);
      }
      this.showRing();
      this.here.slips.place();
    });
    /** The size that the eye was fitted to. */
    this.fitted = "";
    this.asks = false;
    this.asking = false;
    /** The sticker that has the focus once it is shown. @type {string | null} */
    this.wanted = null;
    /** Names of the stickers that are taken. @type {Set<string>} */
    this.taken = new Set();
    /** @type {Map<string, Held>} */
    this.held = new Map();
    this.said = "";
    /** Colours as they are seen. @type {Colour[]} */
    this.colours = [];
    /** @type {Moving | null} */
    this.moving = null;
    /** What the next touch of the sheet is for. @type {Placing | null} */
    this.placing = null;
  }

  /** @param {string | null} left the sketch that was left for the sheet */
  open(left) {
    this.wanted = left;
    this.here.surface.append(this.world);
    this.here.surface.setAttribute("aria-label", `Sheet ${this.here.desk.state.name}`);
    this.container.append(this.notes, this.empty, this.waiting);
    const { sheet } = this.here.desk.state;
    if (!this.sheet && sheet?.width_mm && sheet.height_mm) this.showPage(/** @type {PageSize} */ (sheet));
    void this.follow();
    this.focus();
    usable();
  }

  focus() {
    if (this.wanted === null) return;
    const sticker = this.elementOf(this.wanted);
    if (!sticker) return;
    sticker.focus({ preventScroll: true });
    this.wanted = null;
  }

  /**
   * @param {string} name
   * @returns {SVGElement | HTMLElement | null} a sticker on the sheet, or the print of a sketch that waits
   */
  elementOf(name) {
    const selector = `[data-sticker="${CSS.escape(name)}"]`;
    return this.world.querySelector(selector) ?? this.waiting.querySelector(selector);
  }

  /**
   * @param {string} name
   * @returns {DOMRect | null} where it lies on the screen
   */
  placeOf(name) {
    return this.elementOf(name)?.getBoundingClientRect() ?? null;
  }

  close() {
    this.world.remove();
    this.notes.remove();
    this.empty.remove();
    this.waiting.remove();
  }

  /** Fetch the sheet as it is now. One question at a time: what changes meanwhile is asked for after it. */
  async follow() {
    this.recolour();
    this.say();
    this.asks = true;
    if (this.asking) return;
    this.asking = true;
    await this.here.desk.working("Laying out the sheet", () => this.ask());
    this.asking = false;
  }

  async ask() {
    while (this.asks && this.world.isConnected) {
      this.asks = false;
      const settled = [...this.held].filter(([, held]) => held.saved);
      try {
        const sheet = await getSheet();
        for (const [name, held] of settled) if (this.held.get(name) === held) this.held.delete(name);
        this.show(merged(this.sheet, sheet));
      } catch (error) {
        if (!this.asks) this.here.desk.refuse(error);
      }
    }
  }

  /** What is known without the sheet: what waits, what is amiss with the job, and whether there is anything. */
  say() {
    const { stickers, problems } = this.here.desk.state;
    const height = this.waiting.offsetHeight;
    showWaiting(this.waiting, this.here, this.sheet);
    if (this.waiting.offsetHeight !== height && !this.view.isMoved) this.fit();
    showNotes(this.notes, [
      ...problems.map(({ sentence, line }) => (line === null ? sentence : `Line ${line}: ${sentence}`)),
      ...(this.sheet?.sentence ? [this.sheet.sentence] : []),
    ]);
    this.empty.hidden = stickers.length > 0 || problems.length > 0;
  }

  /** @param {SheetValue} sheet */
  show(sheet) {
    this.sheet = sheet;
    this.showPage(sheet.page);
    this.margins.show(sheet.page);
    showStickers(this.stickers, sheet, (name) => this.poseOf(name));
    this.letters.show(sheet.lettering);
    if (!this.moving) {
      this.soft.clear();
      this.saysSoftly("");
    }
    this.take([...this.taken].filter((name) => this.shown(name)));
    showFindings(this.findings, sheet.findings, this.here);
    this.here.slips.refresh();
    this.say();
    this.focus();
    shown("sheet", "place");
  }

  /**
   * The bare sheet.
   *
   * @param {PageSize} page
   */
  showPage({ width_mm, height_mm, background }) {
    const size = { x: 0, y: 0, width: width_mm, height: height_mm };
    assign(this.page, size);
    this.page.style.fill = background ?? "";
    const key = `${width_mm} ${height_mm}`;
    if (this.fitted !== key) this.fit();
    this.fitted = key;
  }

  fit() {
    const { clientWidth, clientHeight } = this.here.surface;
    const below = 84 + (this.waiting.childElementCount > 0 ? this.waiting.offsetHeight : 0);
    const { width, height } = this.page.getBBox();
    if (width === 0) return;
    const box = { x_mm: 0, y_mm: 0, width_mm: width, height_mm: height };
    this.view.fit(box, { x: 24, y: 24, width: clientWidth - 48, height: clientHeight - below });
  }

  /**
   * @param {string} name
   * @returns {SheetSticker | undefined} as the server has it
   */
  shown(name) {
    return this.sheet?.stickers.find((sticker) => sticker.name === name);
  }

  /** @returns {SheetSticker[]} all of them, where they are seen */
  seen() {
    return (this.sheet?.stickers ?? []).map((sticker) => {
      const { x, y, turn } = this.poseOf(sticker.name);
      return { ...sticker, x_mm: x, y_mm: y, turn_deg: turn };
    });
  }

  /**
   * @param {string} name
   * @returns {Pose} where a sticker is seen
   */
  poseOf(name) {
    const held = this.held.get(name);
    if (held) return held.pose;
    const { x_mm: x = 0, y_mm: y = 0, turn_deg: turn = 0 } = this.shown(name) ?? {};
    return { x, y, turn, scale: 1 };
  }

  /**
   * Show a sticker elsewhere than the server has it.
   *
   * @param {string} name
   * @param {Held | null} held null: where the server has it
   */
  hold(name, held) {
    if (held) this.held.set(name, held);
    else this.held.delete(name);
    const [sticker, element] = [this.shown(name), this.elementOf(name)];
    if (sticker && element) pose(element, sticker, this.poseOf(name));
  }

  /** Show colours that have changed at once, before the server has drawn them. */
  recolour() {
    const { colours } = this.here.desk.state;
    const changed = changedColours(this.colours, colours);
    this.colours = colours;
    if (!this.sheet || changed.size === 0) return;
    this.show(recoloured(this.sheet, changed));
    shown("colour");
  }

  /**
   * Say at the foot what a soft mark means, until the sheet itself says it.
   *
   * @param {string} words "" for nothing any more
   */
  saysSoftly(words) {
    if (words === this.said) return;
    this.said = words;
    this.here.hint(words);
  }

  /** @param {string[]} names */
  take(names) {
    this.taken = new Set(names);
    for (const element of this.stickers.children) {
      const taken = this.taken.has(element.getAttribute("data-sticker") ?? "");
      element.classList.toggle("taken", taken);
    }
    this.showRing();
  }

  /** The ring lies around the one sticker that is taken, if it can be turned. */
  showRing() {
    const [name] = this.taken.size === 1 ? this.taken : [];
    const sticker = name === undefined ? undefined : this.shown(name);
    const turns = sticker && canBePlaced(tableOf(this.here.desk.state.document, sticker.name));
    this.ring.show(turns ? sticker : null, this.poseOf(name ?? ""), this.view.scale);
  }

  /**
   * The name of the sticker that an element belongs to.
   *
   * @param {Element} element
   * @returns {string | null}
   */
  stickerAt(element) {
    return element.closest("[data-sticker]")?.getAttribute("data-sticker") ?? null;
  }
}
