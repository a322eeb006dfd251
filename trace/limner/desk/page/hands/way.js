/** The way of a hand, kept as places on the page: the drawing under it may become another one meanwhile. */

import { fromPage, toPage } from "../sketch/paper.js";

/** @import { Drawing, Point } from "../contract.js" */
/** @import { Sketch } from "../sketch/sketch.js" */

export class Way {
  /**
   * @param {Sketch} sketch one that has a drawing
   * @param {{x_mm: number, y_mm: number}} start
   */
  constructor(sketch, { x_mm, y_mm }) {
    this.sketch = sketch;
    /** @type {Point[]} */
    this.places = [];
    this.add(x_mm, y_mm);
  }

  /**
   * @param {number} x_mm
   * @param {number} y_mm
   */
  add(x_mm, y_mm) {
    this.places.push(toPage(this.drawing, x_mm, y_mm));
  }

  /** In millimetres of the drawing that is shown now. */
  get points() {
    return this.places.map((place) => fromPage(this.drawing, place));
  }

  get drawing() {
    return /** @type {Drawing} */ (this.sketch.drawing);
  }
}
