/** Touches made on a sketch as edits of the job: pure functions of what is there. */

/** @import { Box, Edit, Point, Table } from "../contract.js" */

/** Kinds of touches whose table holds a line, and those that hold a single place. */
const LINES = ["draw", "rub", "part", "pull"];
const PLACES = ["open", "corner", "smooth"];

/** What a touch of each kind is called. @type {Record<string, string>} */
const CALLED = {
  draw: "Line drawn",
  rub: "Rubbed out",
  part: "Area parted",
  pull: "Line pulled",
  open: "Gap left open",
  corner: "Made a corner",
  smooth: "Made smooth",
};

/**
 * @param {Table} touch
 * @returns {string} "draw", "rub" ..., or "" for one that says nothing
 */
export const kindOf = (touch) => [...LINES, ...PLACES].find((kind) => kind in touch) ?? "";

/**
 * @param {Table} touch
 * @returns {string}
 */
export const calledAs = (touch) => CALLED[kindOf(touch)] ?? "Touch";

/**
 * Where a touch was made, in millimetres of the drawing.
 *
 * @param {Table} touch
 * @param {Box} page
 * @returns {Point[]}
 */
export function placesOf(touch, page) {
  const kind = kindOf(touch);
  const written = PLACES.includes(kind) ? [touch[kind]] : touch[kind];
  if (!Array.isArray(written)) return [];
  const points = written.filter((point) => Array.isArray(point) && point.length === 2);
  return points.map(([x, y]) => [page.x_mm + x * page.width_mm, page.y_mm + y * page.height_mm]);
}

/**
 * @param {string} sticker
 * @param {Table} touch
 * @returns {Edit[]}
 */
export const addTouch = (sticker, touch) => [
  { what: "add", where: ["sticker", sticker, "touch"], to: touch },
];

/**
 * @param {string} sticker
 * @param {number} index
 * @returns {Edit[]}
 */
export const removeTouch = (sticker, index) => [
  { what: "remove", where: ["sticker", sticker, "touch", index] },
];

/**
 * @param {string} sticker
 * @param {number} index
 * @param {string} key
 * @param {unknown} value null takes the key away
 * @returns {Edit[]}
 */
export function changeTouch(sticker, index, key, value) {
  const where = ["sticker", sticker, "touch", index, key];
  return value === null ? [{ what: "unset", where }] : [{ what: "set", where, to: value }];
}

/**
 * Make a place of an outline a corner, or smooth, or leave it as it was found; what was said of it before goes.
 *
 * @param {string} sticker
 * @param {Table[]} touches those that there are
 * @param {{at: Point, near: (touch: Table) => boolean}} place as fractions; and whether a touch is about it
 * @param {"corner" | "smooth" | null} kind null: as found
 * @returns {Edit[]}
 */
export function turnNode(sticker, touches, { at, near }, kind) {
  const before = [...touches.keys()].filter(
    (i) => ["corner", "smooth"].includes(kindOf(touches[i])) && near(touches[i]),
  );
  const gone = before.reverse().flatMap((index) => removeTouch(sticker, index));
  return kind === null ? gone : [...gone, ...addTouch(sticker, { [kind]: at })];
}
