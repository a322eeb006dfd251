/** An axis is dragged over, or turned by one of its ends; what follows from it is tried meanwhile. */

import { byHand, changeAxis } from "../edits/mirror.js";
import { letGo } from "../marks.js";
import { axisMark, middleOf, showAxis } from "../sketch/marked.js";

/** @import { Axis } from "../contract.js" */
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
  const before = aboutMiddle(found, sketch);
  const end = contact.target.closest("[data-end]");
  let axis = before;
  const ghost = axisMark(before, sketch.drawing, index);
  ghost.classList.add("ghost");
  sketch.trail.append(ghost);
  sketch.marks.classList.add("moves");
  const done = () => {
    ghost.remove();
    sketch.marks.classList.remove("moves");
    sketch.stopAttempt();
  };
  return {
    move(now) {
      axis = end ? turned(before, now) : moved(before, contact, now);
      ghost.replaceChildren(...axisMark(axis, sketch.drawing, index).children);
      sketch.attempt(editsOf(here, sketch, index, axis));
    },
    end() {
      done();
      const edits = editsOf(here, sketch, index, axis);
      showAxis(sketch, index, axis);
      decide(sketch, end ? "Axis turned" : "Axis moved", edits);
    },
    cancel() {
      done();
      sketch.again();
    },
  };
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

/**
 * @param {Axis} axis
 * @param {Contact} from
 * @param {Contact} to
 * @returns {Axis}
 */
const moved = (axis, from, to) => ({
  ...axis,
  x_mm: axis.x_mm + to.x_mm - from.x_mm,
  y_mm: axis.y_mm + to.y_mm - from.y_mm,
});

/**
 * @param {Axis} axis
 * @param {Contact} to
 * @returns {Axis}
 */
function turned(axis, { x_mm, y_mm }) {
  const angle = (Math.atan2(y_mm - axis.y_mm, x_mm - axis.x_mm) * 180) / Math.PI;
  return { ...axis, angle_deg: (angle + 360) % 180 };
}
