/** The sheet's own lines, thin and in pencil: how far the colour runs over, where it is trimmed, what is safe. */

import { assign, svg } from "../dom.js";

/** @import { SheetPage } from "../contract.js" */

export class Margins {
  constructor() {
    this.bleed = svg("rect", { class: "bleed" });
    this.safe = svg("rect", { class: "margin safe" });
    this.trim = svg("rect", { class: "margin trim" });
    /** Under the sheet, and over it. */
    this.below = this.bleed;
    this.above = svg("g", { "aria-hidden": true }, this.trim, this.safe);
  }

  /** @param {SheetPage} page */
  show({ width_mm, height_mm, bleed_mm, safe_mm, background }) {
    const around = (/** @type {number} */ grown) => ({
      x: -grown,
      y: -grown,
      width: Math.max(0, width_mm + 2 * grown),
      height: Math.max(0, height_mm + 2 * grown),
    });
    assign(this.bleed, around(bleed_mm));
    assign(this.trim, around(0));
    assign(this.safe, around(-safe_mm));
    this.bleed.style.fill = background ?? "";
  }
}
