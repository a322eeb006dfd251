/** Several areas are taken together by going round them: all that have their middle in the ring. */

import { svg } from "../dom.js";

/** @import { Point, Shape } from "../contract.js" */
/** @import { Contact, Stroke } from "../surface/pointers.js" */
/** @import { Sketch } from "./sketch.js" */

/**
 * @param {Sketch} sketch
 * @param {Contact} contact where the ring begins
 * @param {(areas: Shape[], last: Contact) => void} take
 * @returns {Stroke}
 */
export function goRound(sketch, contact, take) {
  /** @type {Point[]} */
  const ring = [[contact.x_mm, contact.y_mm]];
  const trail = svg("path", { class: "mark ringed" });
  sketch.trail.append(trail);
  return {
    move({ x_mm, y_mm }) {
      ring.push([x_mm, y_mm]);
      trail.setAttribute("d", `M${ring.map((point) => point.join(" ")).join("L")}Z`);
    },
    end(last) {
      trail.remove();
      const { drawing } = sketch;
      if (!drawing) return;
      const { x_mm, y_mm, width_mm, height_mm } = drawing.page;
      const inside = drawing.fills.filter(
        ({ role, at }) =>
          role === "area" && at && isInside(ring, [x_mm + at[0] * width_mm, y_mm + at[1] * height_mm]),
      );
      take(inside, last);
    },
    cancel: () => trail.remove(),
  };
}

/**
 * Whether a point lies in a ring, by the even-odd rule.
 *
 * @param {Point[]} ring
 * @param {Point} point
 * @returns {boolean}
 */
export function isInside(ring, [x, y]) {
  let inside = false;
  for (const [i, [x1, y1]] of ring.entries()) {
    const [x0, y0] = ring[(i + ring.length - 1) % ring.length];
    if (y0 > y !== y1 > y && x < ((x1 - x0) * (y - y0)) / (y1 - y0) + x0) inside = !inside;
  }
  return inside;
}
