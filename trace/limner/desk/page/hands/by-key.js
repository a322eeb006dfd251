/**
 * Pencil, rubber and ring without a pointer: Enter puts a cross on the paper, arrows move it, Enter sets points,
 * and Enter twice at one place ends the stroke. Escape leaves it.
 */

import { svg, takesText } from "../dom.js";

/** @import { Here } from "../here.js" */
/** @import { Contact, Stroke } from "../surface/pointers.js" */
/** @import { Hand } from "./hands.js" */

/** How far an arrow key goes, and with Shift. */
const STEP_PX = 4;
const FAR_PX = 32;

/** Half the size of the cross. */
const ARM_PX = 9;

const HINT = "Arrows move the cross, Enter sets a point, Enter twice ends";

/** What has a use of its own for keys. */
const ELSEWHERE = "#foot, dialog, [data-zone], [data-touch], [data-bridge], [data-axis]";

/** @type {Record<string, [number, number]>} */
const ARROWS = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };

export class ByKey {
  /**
   * @param {Here} here
   * @param {Pick<Hand, "begin" | "hint">} hand
   */
  constructor(here, hand) {
    this.here = here;
    this.hand = hand;
    this.cross = svg("path", { class: "mark cross" });
    /** On the screen; null while no cross lies there. @type {{x: number, y: number} | null} */
    this.at = null;
    /** @type {Stroke | null} */
    this.stroke = null;
    this.moved = false;
    this.listening = new AbortController();
    const options = { capture: true, signal: this.listening.signal };
    window.addEventListener("keydown", (event) => this.keyed(event), options);
    window.addEventListener("pointerdown", () => this.leave(), options);
  }

  /** The hand is put down. */
  drop() {
    this.leave();
    this.listening.abort();
  }

  /** @param {KeyboardEvent} event */
  keyed(event) {
    const { key, target, ctrlKey, metaKey, altKey, shiftKey } = event;
    const elsewhere = target instanceof Element && target.closest(ELSEWHERE) !== null;
    if (elsewhere || ctrlKey || metaKey || altKey || takesText(target)) return;
    if (!this.does(key, shiftKey, target)) return;
    event.preventDefault();
    event.stopPropagation();
  }

  /**
   * @param {string} key
   * @param {boolean} far
   * @param {EventTarget | null} target
   * @returns {boolean} whether the key was meant for the cross
   */
  does(key, far, target) {
    if (key === "Enter") this.enter(target);
    else if (this.at && key === "Escape") this.leave();
    else if (this.at && ARROWS[key]) this.move(...ARROWS[key], far ? FAR_PX : STEP_PX);
    else return false;
    return true;
  }

  /** @param {EventTarget | null} target an area, which the cross begins on; the middle of the desk otherwise */
  enter(target) {
    const { sketch, surface } = this.here;
    if (!sketch) return;
    if (!this.at) {
      const from = target instanceof Element && target.closest("[data-area]") ? target : surface;
      const { x, y, width, height } = from.getBoundingClientRect();
      this.at = { x: x + width / 2, y: y + height / 2 };
      sketch.trail.append(this.cross);
      this.show();
      this.here.hint(HINT);
    } else if (!this.stroke) {
      this.stroke = this.hand.begin(this.contact(), this.here);
    } else if (this.moved) this.stroke.move(this.contact());
    else {
      const { stroke } = this;
      this.stroke = null;
      stroke.end(this.contact());
      this.leave();
    }
    this.moved = false;
  }

  /**
   * @param {number} dx
   * @param {number} dy
   * @param {number} step
   */
  move(dx, dy, step) {
    if (!this.at) return;
    this.at = { x: this.at.x + dx * step, y: this.at.y + dy * step };
    this.moved = true;
    this.show();
  }

  leave() {
    if (!this.at) return;
    this.stroke?.cancel();
    this.stroke = null;
    this.at = null;
    this.cross.remove();
    this.here.hint(this.hand.hint);
  }

  show() {
    const { x_mm, y_mm } = this.contact();
    const arm = ARM_PX / (this.here.sketch?.view.scale ?? 1);
    this.cross.setAttribute("d", `M${x_mm - arm} ${y_mm}h${2 * arm}M${x_mm} ${y_mm - arm}v${2 * arm}`);
  }

  /** @returns {Contact} */
  contact() {
    const { x, y } = this.at ?? { x: 0, y: 0 };
    const [x_mm, y_mm] = this.here.sketch?.view.toPaper(x, y) ?? [0, 0];
    return { x, y, x_mm, y_mm, target: this.here.surface, pointer: "key", shift: false };
  }
}
