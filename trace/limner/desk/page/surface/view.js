/** How the paper lies under the eye: its scale and where its origin is on the screen. */

/** @import { Box, Point } from "../contract.js" */

/** The least and the most that a millimetre is enlarged to, in pixels. */
const SMALLEST_PX_PER_MM = 0.5;
const LARGEST_PX_PER_MM = 400;

export class View {
  /** @param {() => void} changed called whenever the paper has moved */
  constructor(changed) {
    this.changed = changed;
    /** Pixels per millimetre. */
    this.scale = 1;
    this.x = 0;
    this.y = 0;
    /** Whether somebody moved the paper since it was fitted. */
    this.isMoved = false;
  }

  /** The transform that puts millimetres on the screen. */
  get transform() {
    return `matrix(${this.scale} 0 0 ${this.scale} ${this.x} ${this.y})`;
  }

  /**
   * @param {number} x
   * @param {number} y
   * @returns {Point} millimetres under a point of the screen
   */
  toPaper(x, y) {
    return [(x - this.x) / this.scale, (y - this.y) / this.scale];
  }

  /**
   * @param {number} x_mm
   * @param {number} y_mm
   * @returns {Point} the point of the screen over a point of the paper
   */
  toScreen(x_mm, y_mm) {
    return [x_mm * this.scale + this.x, y_mm * this.scale + this.y];
  }

  /**
   * Show a part of the paper as large as it fits into a part of the screen.
   *
   * @param {Box} box
   * @param {{x: number, y: number, width: number, height: number}} room in pixels
   */
  fit(box, room) {
    const scale = Math.min(room.width / box.width_mm, room.height / box.height_mm);
    this.isMoved = false;
    this.scale = clamp(scale);
    this.x = room.x + room.width / 2 - (box.x_mm + box.width_mm / 2) * this.scale;
    this.y = room.y + room.height / 2 - (box.y_mm + box.height_mm / 2) * this.scale;
    this.changed();
  }

  /**
   * Something on the paper has another place and size there, and stays where it is on the screen.
   *
   * @param {Box} before
   * @param {Box} after
   */
  keep(before, after) {
    if (String(Object.values(before)) === String(Object.values(after)) || after.width_mm <= 0) return;
    const [x, y] = this.toScreen(before.x_mm, before.y_mm);
    this.scale *= before.width_mm / after.width_mm;
    this.x = x - after.x_mm * this.scale;
    this.y = y - after.y_mm * this.scale;
    this.changed();
  }

  /**
   * @param {number} dx pixels
   * @param {number} dy pixels
   */
  move(dx, dy) {
    this.isMoved = true;
    this.x += dx;
    this.y += dy;
    this.changed();
  }

  /**
   * Enlarge about a point of the screen.
   *
   * @param {number} factor
   * @param {number} x
   * @param {number} y
   */
  enlarge(factor, x, y) {
    this.isMoved = true;
    const scale = clamp(this.scale * factor);
    const [x_mm, y_mm] = this.toPaper(x, y);
    this.scale = scale;
    this.x = x - x_mm * scale;
    this.y = y - y_mm * scale;
    this.changed();
  }
}

/** @param {number} scale */
const clamp = (scale) => Math.min(LARGEST_PX_PER_MM, Math.max(SMALLEST_PX_PER_MM, scale));
