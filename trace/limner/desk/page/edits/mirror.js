/** Axes of a sketch as edits of the job: pure functions of what `mirror` says. */

/** @import { Edit, Point, Table } from "../contract.js" */

/**
 * What the job says of each axis; empty where nothing is mirrored, an empty table for one that is found.
 *
 * @param {unknown} mirror
 * @returns {Table[]}
 */
export function axesOf(mirror) {
  if (mirror === undefined || mirror === "off") return [];
  if (mirror === "auto") return [{}];
  return Array.isArray(mirror) ? mirror : [/** @type {Table} */ (mirror)];
}

/**
 * @param {string} sticker
 * @param {unknown} mirror as it is
 * @param {number} index
 * @param {Table} keys null takes a key away
 * @returns {Edit[]}
 */
export function changeAxis(sticker, mirror, index, keys) {
  const axes = axesOf(mirror);
  const changed = Object.fromEntries(
    Object.entries({ ...axes[index], ...keys }).filter(([, to]) => to !== null),
  );
  const all = axes.map((axis, i) => (i === index ? changed : axis));
  return setMirror(sticker, all.length === 0 ? [changed] : all);
}

/**
 * @param {string} sticker
 * @param {unknown} mirror
 * @param {number} index
 * @returns {Edit[]}
 */
export const removeAxis = (sticker, mirror, index) =>
  setMirror(
    sticker,
    axesOf(mirror).filter((_, i) => i !== index),
  );

/**
 * @param {string} sticker
 * @param {Table[]} axes
 * @returns {Edit[]}
 */
export function setMirror(sticker, axes) {
  const where = ["sticker", sticker, "mirror"];
  if (axes.length === 0) return [{ what: "set", where, to: "off" }];
  if (axes.length > 1) return [{ what: "set", where, to: axes }];
  return [{ what: "set", where, to: Object.keys(axes[0]).length === 0 ? "auto" : axes[0] }];
}

/**
 * An axis set by hand.
 *
 * @param {Point} at fractions of the page
 * @param {number} angle_deg clockwise from the horizontal
 * @returns {Table}
 */
export const byHand = (at, angle_deg) => ({
  at,
  angle: Math.round((((angle_deg % 180) + 180) % 180) * 100) / 100,
});

/**
 * Sides that an axis has: left and right of an upright one, top and bottom of a level one.
 *
 * @param {number} angle_deg
 * @returns {["left", "right"] | ["top", "bottom"]}
 */
export function sidesOf(angle_deg) {
  const lean = Math.abs((((angle_deg % 180) + 180) % 180) - 90);
  return lean <= 45 ? ["left", "right"] : ["top", "bottom"];
}
