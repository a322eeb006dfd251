/** An axis is dragged over, or turned by one of its ends; what follows from it is tried meanwhile. */

import { svg } from "../dom.js";
import { byHand, changeAxis } from "../edits/mirror.js";
import { letGo } from "../marks.js";
import { axisMark, middleOf, showAxis } from "../sketch/marked.js";
import { fromPage, toPage } from "../sketch/paper.js";
import { Way } from "./way.js";

/** @import { Axis, Point } from "../contract.js" */
/** @import { Here } from "../here.js" */
/** @import { Sketch } from "../sketch/sketch.js" */
/** @import { Contact, Stroke } from "../surface/pointers.js" */

/** An arrow key moves an axis, or turns it, by this much. */
const STEP_MM = 0.5;
const STEP_DEG = 0.5;

/**
 * @param {Contact} contact
 * @param {Here} here
 * @returns {Stroke | null} null: no axis lies there
 */
export function dragAxis(contact, here) {
  const { sketch } = here;
  const element = contact.target.closest("[data-axis]");
  const index = Number(element?.getAttribute("data-axis"));
  const found = element ? sketch?.drawing?.axes[index] : undefined;
  if (!sketch || !found) return null;
  const held = new Held(sketch, found, contact);
  const end = contact.target.closest("[data-end]");
  const ghost = svg("g", { class: "ghost" });
  const show = () => ghost.replaceChildren(...axisMark(held.axis, sketch.drawing, index).children);
  const following = new AbortController();
  sketch.addEventListener("drawing", show, { signal: following.signal });
  sketch.trail.append(ghost);
  sketch.marks.classList.add("moves");
  const done = () => {
    following.abort();
    ghost.remove();
    sketch.marks.classList.remove("moves");
    sketch.stopAttempt();
  };
  return {
    move(now) {
      if (end) held.turn(now);
      else held.move(now);
      show();
      sketch.attempt(editsOf(here, sketch, index, held.axis));
    },
    end() {
      done();
      const { axis } = held;
      showAxis(sketch, index, axis);
      decide(sketch, end ? "Axis turned" : "Axis moved", editsOf(here, sketch, index, axis));
    },
    cancel() {
      done();
      sketch.again();
    },
  };
}

/** An axis in the hand, kept as a place on the page: the drawing follows it, and becomes another one. */
class Held {
  /**
   * @param {Sketch} sketch
   * @param {Axis} axis
   * @param {Contact} contact
   */
  constructor(sketch, axis, contact) {
    this.was = axis;
    this.angle_deg = axis.angle_deg;
    this.start = new Way(sketch, aboutMiddle(axis, sketch));
    this.way = new Way(sketch, contact);
    /** @type {Point} */
    this.place = this.start.places[0];
  }

  /** As it lies in the drawing that is shown now. */
  get axis() {
    const [x_mm, y_mm] = fromPage(this.way.drawing, this.place);
    return { ...this.was, x_mm, y_mm, angle_deg: this.angle_deg };
  }

  /** @param {Contact} now */
  move({ x_mm, y_mm }) {
    const [x, y] = toPage(this.way.drawing, x_mm, y_mm);
    const [[x0, y0], [fx, fy]] = [this.way.places[0], this.start.places[0]];
    this.place = [fx + x - x0, fy + y - y0];
  }

  /** @param {Contact} now */
  turn({ x_mm, y_mm }) {
    const [x0, y0] = this.start.points[0];
    this.angle_deg = ((Math.atan2(y_mm - y0, x_mm - x0) * 180) / Math.PI + 360) % 180;
  }
}

/**
 * Arrow keys move the axis that has the focus; with Shift they turn it.
 *
 * @param {Here} here
 * @param {KeyboardEvent} event
 */
export function axisByKey(here, event) {
  const { sketch } = here;
  const element = event.target instanceof Element ? event.target.closest("[data-axis]") : null;
  const step = ARROWS[event.key];
  if (!sketch || !element || !step) return;
  event.preventDefault();
  const index = Number(element.getAttribute("data-axis"));
  const found = sketch.drawing?.axes[index];
  if (!found) return;
  const [dx, dy] = step;
  const axis = aboutMiddle(found, sketch);
  const to = event.shiftKey
    ? { ...axis, angle_deg: axis.angle_deg + (dx + dy) * STEP_DEG }
    : { ...axis, x_mm: axis.x_mm + dx * STEP_MM, y_mm: axis.y_mm + dy * STEP_MM };
  showAxis(sketch, index, to);
  decide(sketch, event.shiftKey ? "Axis turned" : "Axis moved", editsOf(here, sketch, index, to));
}

/** @type {Record<string, [number, number]>} */
const ARROWS = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };

/**
 * The same axis, held in the middle of the figure: about that it is turned.
 *
 * @param {Axis} axis
 * @param {Sketch} sketch
 * @returns {Axis}
 */
function aboutMiddle(axis, sketch) {
  const [x_mm, y_mm] = middleOf(axis, sketch.drawing);
  return { ...axis, x_mm, y_mm };
}

/**
 * @param {Sketch} sketch
 * @param {string} words
 * @param {import("../contract.js").Edit[]} edits
 */
function decide(sketch, words, edits) {
  letGo("axis");
  void sketch.decide(words, edits);
}

/**
 * @param {Here} here
 * @param {Sketch} sketch
 * @param {number} index
 * @param {Axis} axis
 */
function editsOf(here, sketch, index, { x_mm, y_mm, angle_deg }) {
  const { mirror } = here.desk.table(sketch.name);
  return changeAxis(sketch.name, mirror, index, byHand(sketch.toFractions(x_mm, y_mm), angle_deg));
}
