/**
 * A line is pulled over: taken hold of at its edge and dragged, everything on it goes along.
 *
 * What is shown meanwhile is the bend that limner will make: an elliptical bump (1 - q²)³ around the place that
 * is taken hold of, its long axis along the line, its short one as short as it can be without folding.
 */

import { svg } from "../dom.js";
import { addTouch } from "../edits/touches.js";
import { letGo } from "../marks.js";
import { outlinesOf } from "../sketch/outlines.js";
import { linger } from "./linger.js";
import { onPage } from "./pencil.js";
import { pathThrough } from "./spline.js";

/** @import { Point } from "../contract.js" */
/** @import { Here } from "../here.js" */
/** @import { Sketch } from "../sketch/sketch.js" */
/** @import { Contact, Stroke } from "../surface/pointers.js" */

/** An edge is taken hold of from this near; by a finger from farther away. */
const HOLD_PX = 4;
const FINGER_PX = 9;

/** The bump as limner has it: its reach along the line and across it, and how steep it may be. */
const REACH_LENGTHS = 4;
const REACH_LINE_WIDTHS = 6;
const ACROSS_LINE_WIDTHS = 3;
const STEEPEST = (6 / Math.sqrt(5)) * 0.8 ** 2;
const LARGEST_SLOPE = 0.7;

/**
 * @param {Contact} contact
 * @param {Here} here
 * @returns {Stroke | null} null: no edge lies there
 */
export function pullLine(contact, here) {
  const { sketch } = here;
  const hold = sketch && edgeAt(contact, sketch);
  if (!sketch || !hold) return null;
  const ghost = svg("path", { class: "mark pulled" });
  sketch.trail.append(ghost);
  let to = hold.at;
  return {
    move({ x_mm, y_mm }) {
      to = [hold.at[0] + x_mm - contact.x_mm, hold.at[1] + y_mm - contact.y_mm];
      ghost.setAttribute("d", bent(sketch, hold, to));
    },
    end() {
      letGo("pull");
      const ends = [hold.at, to].map(([x, y]) => onPage(sketch.toFractions(x, y)));
      void sketch.decide(`Line pulled on ${sketch.name}`, addTouch(sketch.name, { pull: ends }));
      linger(here, ghost);
    },
    cancel: () => ghost.remove(),
  };
}

/**
 * Where an edge can be taken hold of, the pointer shows it.
 *
 * @param {Here} here
 */
export function showHolds(here) {
  const { surface } = here;
  surface.addEventListener("pointermove", ({ clientX, clientY, buttons, pointerType }) => {
    const { sketch } = here;
    const looks = surface.dataset.hand === undefined || surface.dataset.hand === "touch";
    if (!sketch || !looks || buttons !== 0) return surface.classList.remove("holds");
    const [x_mm, y_mm] = sketch.view.toPaper(clientX, clientY);
    surface.classList.toggle("holds", edgeAt({ x_mm, y_mm, pointer: pointerType }, sketch) !== null);
  });
}

/**
 * @typedef {{at: Point, along: Point}} Hold a place on an edge, and the direction of the edge there
 */

/**
 * The edge at a contact, if one is near enough.
 *
 * @param {Pick<Contact, "x_mm" | "y_mm" | "pointer">} contact
 * @param {Sketch} sketch
 * @returns {Hold | null}
 */
export function edgeAt({ x_mm, y_mm, pointer }, sketch) {
  let least = (pointer === "touch" ? FINGER_PX : HOLD_PX) / sketch.view.scale;
  /** @type {Hold | null} */
  let hold = null;
  for (const outline of outlinesOf(sketch.drawing)) {
    for (let i = 0; i + 1 < outline.length; i += 1) {
      const [[x0, y0], [x1, y1]] = [outline[i], outline[i + 1]];
      const [dx, dy] = [x1 - x0, y1 - y0];
      const length = Math.hypot(dx, dy);
      if (length === 0) continue;
      const share = Math.min(1, Math.max(0, ((x_mm - x0) * dx + (y_mm - y0) * dy) / length ** 2));
      const away = Math.hypot(x_mm - x0 - share * dx, y_mm - y0 - share * dy);
      if (away >= least) continue;
      least = away;
      hold = { at: [x0 + share * dx, y0 + share * dy], along: [dx / length, dy / length] };
    }
  }
  return hold;
}

/**
 * The outlines near a pull as they will be.
 *
 * @param {Sketch} sketch
 * @param {Hold} hold
 * @param {Point} to
 */
function bent(sketch, { at, along }, to) {
  const move = [to[0] - at[0], to[1] - at[1]];
  const lineWidth = sketch.drawing?.line_width_mm ?? 1;
  const reach = Math.max(REACH_LENGTHS * Math.hypot(move[0], move[1]), REACH_LINE_WIDTHS * lineWidth);
  const aside = Math.abs(move[1] * along[0] - move[0] * along[1]);
  const across = Math.max(
    (STEEPEST / LARGEST_SLOPE) * aside,
    Math.min(ACROSS_LINE_WIDTHS * lineWidth, reach),
  );
  const bump = (/** @type {Point} */ [x, y]) => {
    const [ax, ay] = [x - at[0], y - at[1]];
    const q2 =
      ((ax * along[0] + ay * along[1]) / reach) ** 2 + ((ay * along[0] - ax * along[1]) / across) ** 2;
    return q2 >= 1 ? 0 : (1 - q2) ** 3;
  };
  const parts = outlinesOf(sketch.drawing).flatMap((outline) => touchedParts(outline, bump, move));
  return parts.map(pathThrough).join("");
}

/**
 * The runs of an outline that move.
 *
 * @param {Point[]} outline
 * @param {(point: Point) => number} bump
 * @param {number[]} move
 */
function touchedParts(outline, bump, move) {
  /** @type {Point[][]} */
  const parts = [[]];
  for (const point of outline) {
    const share = bump(point);
    if (share > 0) parts[parts.length - 1].push([point[0] + share * move[0], point[1] + share * move[1]]);
    else if (parts[parts.length - 1].length > 0) parts.push([]);
  }
  return parts.filter((part) => part.length > 1);
}
