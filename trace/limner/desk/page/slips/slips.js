/**
 * Slips: small papers beside the thing that was touched.
 *
 * Every kind of slip is a module of its own and is registered below. A kind is
 *
 *     { title(about, here) -> string, fill(slip, about, here) -> show }
 *
 * `about` is what `here.slips.open(kind, about, anchor)` was given; `here` is the whole page (`here.js`).
 * `fill` puts fields on the slip (`fields.js`, `number.js`, `colours.js`) and returns `show`, a function that
 * brings the fields in step with the job and the drawing, is called once at first and after every change of
 * them, and returns the slip's title, or null when the thing is gone: then the slip goes, too.
 */

import { html, takesText } from "../dom.js";
import { whyNot } from "../sketch/notes.js";
import { areaSlip } from "./area.js";
import { axisSlip } from "./axis.js";
import { bridgeSlip } from "./bridge.js";
import { cutSlip } from "./cut.js";
import { findingSlip } from "./finding.js";
import { linesSlip } from "./lines.js";
import { nodeSlip } from "./node.js";
import { letteringSlip } from "./lettering.js";
import { pageSlip } from "./page.js";
import { paletteSlip } from "./palette.js";
import { printSlip } from "./print.js";
import { restSlip } from "./rest.js";
import { severalSlip } from "./several.js";
import { sketchSlip } from "./sketch.js";
import { stickerSlip } from "./sticker.js";
import { touchSlip } from "./touch.js";
import { zoneSlip } from "./zone.js";

/** @import { Here } from "../here.js" */

/**
 * @typedef {object} Anchor where on the screen the thing is
 * @property {number} x
 * @property {number} y
 * @property {DOMRect} [box] all of it, which the slip leaves to be seen where there is room
 * @property {boolean} [keyboard] it was touched by a key, so that the slip takes the focus
 * @property {Element | null} [from] what has the focus back when the slip goes
 * @property {Element} [beside] what `box` is of, where that is not `from`: it is seen as a whole
 */

/**
 * @template A
 * @typedef {object} SlipKind
 * @property {(slip: Slip, about: A, here: Here) => (() => string | null)} fill
 * @property {(about: A, here: Here) => void} [gone] the slip was put away
 */

/** Kinds of slips by the name that `open` is given. @type {Record<string, SlipKind<any>>} */
const KINDS = {
  area: areaSlip,
  axis: axisSlip,
  bridge: bridgeSlip,
  cut: cutSlip,
  finding: findingSlip,
  lines: linesSlip,
  node: nodeSlip,
  lettering: letteringSlip,
  page: pageSlip,
  palette: paletteSlip,
  print: printSlip,
  rest: restSlip,
  several: severalSlip,
  sketch: sketchSlip,
  sticker: stickerSlip,
  touch: touchSlip,
  zone: zoneSlip,
};

/** Distance of a slip from what it is about, and from the edge of the desk. */
const BESIDE_PX = 28;
const EDGE_PX = 12;

export class Slip {
  /**
   * @param {Slips} slips
   * @param {Anchor} anchor
   */
  constructor(slips, anchor) {
    this.anchor = anchor;
    this.heading = html("h2", { id: "slip-title" });
    this.body = html("div", { class: "fields" });
    this.complaint = html("p", { class: "complaint", role: "alert", hidden: true });
    this.element = html("dialog", { class: "slip", "aria-labelledby": "slip-title", tabindex: -1 });
    const away = html("button", { type: "button", class: "away", "aria-label": "Put away" }, "done");
    away.addEventListener("click", () => slips.close());
    this.element.append(this.heading, this.body, this.complaint, away);
  }

  /** @param {...Node} fields */
  put(...fields) {
    this.body.append(...fields);
  }

  /** @param {string} sentence why the sketch cannot be traced as it is decided now; "" when it can */
  fail(sentence) {
    if (sentence !== "" || this.complaint.textContent === this.failure) this.complain(sentence);
    this.failure = sentence;
  }

  failure = "";

  /** @param {string} sentence what could not be done; "" when all is well again */
  complain(sentence) {
    this.complaint.textContent = sentence;
    this.complaint.hidden = sentence === "";
  }
}

export class Slips {
  /**
   * @param {HTMLElement} container
   * @param {Here} here
   */
  constructor(container, here) {
    this.container = container;
    this.here = here;
    /** @type {{slip: Slip, kind: string, about: any, show: () => string | null} | null} */
    this.now = null;
    /** Where the last thing was touched: what goes wrong without a slip is said there. */
    this.last = { x: innerWidth / 2, y: innerHeight / 3 };
    for (const event of ["state", "decided", "sticker"])
      here.desk.addEventListener(event, () => this.refresh());
    here.desk.addEventListener("refused", (event) =>
      this.refused(/** @type {CustomEvent<string>} */ (event).detail),
    );
    window.addEventListener(
      "pointerdown",
      ({ clientX, clientY }) => (this.last = { x: clientX, y: clientY }),
      true,
    );
    window.addEventListener("resize", () => this.place());
    /** A slip that grows stays on the desk. */
    this.growth = new ResizeObserver(() => this.place());
  }

  /**
   * Lay a slip beside a thing, in place of the one that lies there.
   *
   * @param {string} kind
   * @param {unknown} about
   * @param {Anchor} anchor
   */
  open(kind, about, anchor) {
    this.close();
    if (!this.here.picking) this.here.hint("");
    const slip = new Slip(this, anchor);
    this.container.append(slip.element);
    const show = KINDS[kind].fill(slip, about, this.here);
    this.now = { slip, kind, about, show };
    this.refresh();
    if (!this.now) return;
    slip.element.show();
    this.growth.observe(slip.element);
    this.place();
    this.focus(slip);
  }

  /** @param {Slip} slip */
  focus(slip) {
    const first = /** @type {HTMLElement | null} */ (
      slip.body.querySelector("input:not([type=radio]), input:checked, textarea, select, button, [tabindex]")
    );
    if (slip.anchor.keyboard && first) first.focus();
    else slip.element.focus({ preventScroll: true });
  }

  /** Put the slip away. */
  close() {
    if (!this.now) return;
    const { slip, kind, about } = this.now;
    const hadFocus = slip.element.contains(document.activeElement);
    this.now = null;
    // A field that has the focus is told that it loses it, and saves what was typed.
    if (hadFocus && document.activeElement instanceof HTMLElement) document.activeElement.blur();
    this.growth.disconnect();
    slip.element.remove();
    KINDS[kind].gone?.(about, this.here);
    if (hadFocus) giveFocus(slip.anchor.from ?? null);
  }

  /** Bring the slip in step with the job. */
  refresh() {
    if (!this.now) return;
    const title = this.now.show();
    if (title === null) return this.close();
    this.now.slip.heading.textContent = title;
    const { desk, sketch } = this.here;
    this.now.slip.fail(sketch ? whyNot(desk, sketch.name) : "");
  }

  /** @param {string} sentence */
  refused(sentence) {
    if (this.now) this.now.slip.complain(sentence);
    else this.say(sentence, this.last);
  }

  /**
   * Say a sentence beside a place; it goes at the next touch.
   *
   * @param {string} sentence
   * @param {{x: number, y: number}} at
   */
  say(sentence, at) {
    const note = html("p", { class: "slip note", role: "alert" }, sentence);
    this.container.append(note);
    put(note, at);
    const away = (/** @type {Event} */ event) => {
      if (event instanceof KeyboardEvent && takesText(event.target)) return;
      note.remove();
      window.removeEventListener("pointerdown", away, true);
      window.removeEventListener("keydown", away, true);
    };
    window.addEventListener("pointerdown", away, true);
    window.addEventListener("keydown", away, true);
  }

  /** Lay the slip beside its thing, within the desk; when the paper moves, it goes along. */
  place() {
    if (!this.now) return;
    const { element, anchor } = this.now.slip;
    const beside = anchor.beside ?? anchor.from;
    if (beside?.isConnected && anchor.box) {
      const box = beside.getBoundingClientRect();
      const share = (anchor.y - anchor.box.y) / anchor.box.height;
      put(element, { x: box.x, y: box.y + share * box.height, box });
    } else put(element, anchor);
  }
}

/**
 * Lay a paper beside a thing: right of it or left of it, or along the edge of the desk.
 *
 * @param {HTMLElement} element
 * @param {Pick<Anchor, "x" | "y" | "box">} anchor
 */
function put(element, { x, y, box }) {
  const { offsetWidth: width, offsetHeight: height } = element;
  const foot = document.getElementById("foot")?.offsetHeight ?? 0;
  const [first, last] = [box?.left ?? x, box?.right ?? x];
  const [least, most] = [EDGE_PX, innerWidth - EDGE_PX - width];
  const fits = [last + BESIDE_PX, first - BESIDE_PX - width].find((side) => side >= least && side <= most);
  // Where there is no room beside the thing, the edge of the desk that hides less of it.
  const edge = last - most < least + width - first ? most : least;
  const top = Math.min(y - height / 3, innerHeight - foot - EDGE_PX - height);
  element.style.left = `${Math.round(fits ?? edge)}px`;
  element.style.top = `${Math.round(Math.max(EDGE_PX, top))}px`;
}

/** @param {Element | null} element */
function giveFocus(element) {
  const takes = element instanceof SVGElement || element instanceof HTMLElement;
  if (takes && element.isConnected) element.focus({ preventScroll: true });
}
