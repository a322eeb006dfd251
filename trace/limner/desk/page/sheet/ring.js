/** Around the sticker that is taken lies a ring with a small grip, by which it is turned. */

import { assign, svg } from "../dom.js";

/** @import { SheetSticker } from "../contract.js" */
/** @import { Pose } from "./outlines.js" */

/** The ring keeps clear of the art by this much. */
const CLEAR_PX = 20;

export class Ring {
  constructor() {
    this.line = svg("circle", { class: "ring" });
    this.grip = svg(
      "g",
      { class: "grip", "data-grip": true, role: "slider", "aria-valuemin": -180, "aria-valuemax": 180 },
      svg("circle", { class: "reach" }),
      svg("circle", { class: "dot" }),
    );
    this.element = svg("g", { class: "around", visibility: "hidden" }, this.line, this.grip);
    /** @type {SheetSticker | null} */
    this.sticker = null;
  }

  /**
   * @param {SheetSticker | null} sticker null: nothing is taken that can be turned
   * @param {Pose} at
   * @param {number} scale of the paper, in pixels per mm
   */
  show(sticker, at, scale) {
    this.sticker = sticker;
    assign(this.element, { visibility: sticker ? "visible" : "hidden" });
    assign(this.grip, { tabindex: sticker ? 0 : null });
    if (!sticker) return;
    const radius = (Math.hypot(sticker.width_mm, sticker.height_mm) / 2) * at.scale + CLEAR_PX / scale;
    assign(this.element, { transform: `translate(${at.x} ${at.y}) rotate(${at.turn})` });
    assign(this.line, { r: radius });
    assign(this.grip, {
      transform: `translate(0 ${-radius})`,
      "aria-label": `Angle of ${sticker.name}`,
      "aria-valuenow": Number(at.turn.toFixed(1)),
      "aria-valuetext": `${Number(at.turn.toFixed(1))}°`,
    });
    this.element.style.setProperty("--px", `${1 / scale}px`);
  }
}
