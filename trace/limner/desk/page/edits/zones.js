/** Zones as edits of the job: pure functions. */

/** @import { Box, Edit, Point, Table } from "../contract.js" */

/** Sides of an ellipse that is shown. */
const SIDES = 48;

/**
 * A new zone, which at first asks for what the sketch has anyway.
 *
 * @param {string} sticker
 * @param {Point[]} polygon fractions of the page
 * @param {string} smoothing
 * @returns {Edit[]}
 */
export const addZone = (sticker, polygon, smoothing) => [
  { what: "add", where: ["sticker", sticker, "zone"], to: { polygon, smoothing } },
];

/**
 * @param {string} sticker
 * @param {number} index
 * @returns {Edit[]}
 */
export const removeZone = (sticker, index) => [
  { what: "remove", where: ["sticker", sticker, "zone", index] },
];

/**
 * @param {string} sticker
 * @param {number} index
 * @param {Table} zone as it is
 * @param {Table} keys null takes a key away
 * @returns {Edit[]}
 */
export function changeZone(sticker, index, zone, keys) {
  return Object.entries(keys)
    .filter(([key, to]) => to !== null || key in zone)
    .map(([key, to]) => {
      const where = ["sticker", sticker, "zone", index, key];
      return to === null ? { what: "unset", where } : { what: "set", where, to };
    });
}

/**
 * Give a zone another outline.
 *
 * @param {string} sticker
 * @param {number} index
 * @param {Table} zone
 * @param {Point[]} polygon
 * @returns {Edit[]}
 */
export const ringAgain = (sticker, index, zone, polygon) =>
  changeZone(sticker, index, zone, { box: null, ellipse: null, mask: null, area: null, polygon });

/**
 * The outline of a zone in millimetres of the drawing; empty for one that is painted or named.
 *
 * @param {Table} zone
 * @param {Box} page
 * @returns {Point[]}
 */
export function zoneOutline(zone, page) {
  return unitOutline(zone).map(([x, y]) => [page.x_mm + x * page.width_mm, page.y_mm + y * page.height_mm]);
}

/**
 * @param {Table} zone
 * @returns {Point[]}
 */
function unitOutline({ polygon, box, ellipse }) {
  if (Array.isArray(polygon)) return polygon;
  if (Array.isArray(box)) {
    const [left, top, right, bottom] = box;
    return [
      [left, top],
      [right, top],
      [right, bottom],
      [left, bottom],
    ];
  }
  if (!Array.isArray(ellipse)) return [];
  const [left, top, right, bottom] = ellipse;
  return [...Array(SIDES).keys()].map((i) => {
    const turn = (2 * Math.PI * i) / SIDES;
    return [
      (left + right + (right - left) * Math.cos(turn)) / 2,
      (top + bottom + (bottom - top) * Math.sin(turn)) / 2,
    ];
  });
}
