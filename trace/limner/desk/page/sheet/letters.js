/** Lettering on the sheet: outlines as the server has set them, and what is typed in the same face meanwhile. */

import { assign, svg } from "../dom.js";
import { toMm } from "../edits/millimetres.js";
import { pose, showLettering } from "./stickers.js";

/** @import { Table } from "../contract.js" */
/** @import { Here } from "../here.js" */
/** @import { Pose } from "./outlines.js" */

/** Where text stands beside its place. @type {Record<string, string>} */
const ANCHORS = { left: "start", middle: "middle", right: "end" };

export class Letters {
  /** @param {Here} here */
  constructor(here) {
    this.here = here;
    this.element = svg("g", { role: "group", "aria-label": "Lettering" });
    /** @type {Table[]} */
    this.shown = [];
    /** What is seen elsewhere than the server has it. @type {Map<number, Pose>} */
    this.held = new Map();
  }

  /** @param {Table[]} letterings */
  show(letterings) {
    this.shown = letterings;
    this.held.clear();
    for (const typed of this.element.querySelectorAll("text")) typed.remove();
    for (const path of this.element.querySelectorAll("path")) path.removeAttribute("visibility");
    showLettering(this.element, letterings);
  }

  /**
   * @param {number} index
   * @returns {Pose}
   */
  at(index) {
    const { x_mm: x = 0, y_mm: y = 0, turn_deg: turn = 0 } = this.of(index) ?? {};
    return this.held.get(index) ?? { x, y, turn, scale: 1 };
  }

  /**
   * @param {number} index
   * @param {Pose | null} at null: where the server has it
   */
  hold(index, at) {
    if (at) this.held.set(index, at);
    else this.held.delete(index);
    const [shown, element] = [this.of(index), this.elementOf(index)];
    if (shown && element) pose(element, /** @type {any} */ (shown), this.at(index));
  }

  /**
   * @param {number} index
   * @param {string} fill of the screen
   */
  paint(index, fill) {
    for (const part of this.elementOf(index)?.querySelectorAll("path, text") ?? []) assign(part, { fill });
  }

  /**
   * Text where it stands, in its face; only an arc waits for the server.
   *
   * @param {number} index
   * @param {string | null} text null: as the server has it
   */
  type(index, text) {
    const element = this.elementOf(index);
    const path = element?.querySelector("path");
    if (!element || !path) return;
    element.querySelector("text")?.remove();
    assign(path, { visibility: text === null ? null : "hidden" });
    if (text === null) return;
    const said = { ...UNSAID, ...this.here.desk.state.document.lettering?.[index] };
    element.append(typed(text, said, this.of(index) ?? {}));
  }

  /** @param {number} index */
  of(index) {
    return this.shown.find((one) => one.index === index);
  }

  /** @param {number} index */
  elementOf(index) {
    return this.element.querySelector(`[data-lettering="${index}"]`);
  }
}

/** What lettering is where the job does not say otherwise. */
const UNSAID = { size: "12 pt", face: "display", align: "middle", leading: 1.2 };

/**
 * @param {string} text
 * @param {Table} said of the job
 * @param {Table} shown where it stands
 */
function typed(text, { size, face, align, leading }, { x_mm, y_mm, turn_deg, fill }) {
  const height = toMm(size, 4);
  const element = svg("text", {
    class: `in-${face}`,
    fill,
    "font-size": height,
    "text-anchor": ANCHORS[align],
    transform: `translate(${x_mm} ${y_mm}) rotate(${turn_deg})`,
  });
  text.split("\n").forEach((line, number) => {
    const part = svg("tspan", { x: 0, y: number * height * leading });
    part.append(line);
    element.append(part);
  });
  return element;
}
