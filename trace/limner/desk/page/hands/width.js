/** The width of the pencil or of the rubber, on a small paper above the foot while the hand holds it. */

import { html } from "../dom.js";
import { readNumber } from "../edits/lengths.js";
import { numberField } from "../slips/number.js";

/** @import { Here } from "../here.js" */
/** @import { Sketch } from "../sketch/sketch.js" */

const MM_PER = { mm: 1, cm: 10, pt: 25.4 / 72, in: 25.4 };

/** Thinner is no line; wider is no pencil. */
const LEAST_MM = 0.05;
const MOST_MM = 30;

export class Width {
  /**
   * @param {number} lineWidths what it is where it is not set
   * @param {() => void} [changed]
   */
  constructor(lineWidths, changed) {
    this.lineWidths = lineWidths;
    this.changed = changed;
    /** As it was set by hand. @type {number | null} */
    this.own_mm = null;
    /** @type {HTMLElement | null} */
    this.paper = null;
  }

  /** @param {Sketch | null} sketch */
  of(sketch) {
    return this.own_mm ?? this.lineWidths * (sketch?.drawing?.line_width_mm ?? 1);
  }

  /**
   * @param {Here} here
   * @param {...HTMLElement} more fields beside it
   */
  lay(here, ...more) {
    const keep = (/** @type {string | number | null} */ value) => {
      const typed = readNumber(String(value ?? ""));
      const factor = MM_PER[/** @type {keyof typeof MM_PER} */ (typed?.unit ?? "mm")];
      this.own_mm = typed && factor ? Math.min(MOST_MM, Math.max(LEAST_MM, typed.value * factor)) : null;
      this.changed?.();
      show();
    };
    const field = numberField("Width", {
      unit: "mm",
      step: 0.05,
      least: LEAST_MM,
      most: MOST_MM,
      attempt: keep,
      save: keep,
    });
    const show = () =>
      field.show({ value: Number(this.of(here.sketch).toFixed(2)), unit: "mm" }, this.own_mm !== null);
    show();
    this.paper = html("div", { class: "in-hand width" }, field.element, ...more);
    document.getElementById("foot")?.append(this.paper);
  }

  take() {
    this.paper?.remove();
    this.paper = null;
  }
}
