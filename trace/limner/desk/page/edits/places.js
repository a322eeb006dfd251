/**
 * Places of stickers as edits of the job.
 *
 * A sticker without a place of its own lies where limner's layout puts it, and the layout begins anew whenever
 * anything changes. So that nothing moves but what is moved by hand, the first place that is decided on gives
 * all the others the place where they are seen.
 */

import { inMm } from "./millimetres.js";

/** @import { Edit, SheetSticker, Table } from "../contract.js" */

/** @typedef {{x: number, y: number, turn: number}} Place the centre on the trimmed sheet, in mm, and degrees clockwise */

/**
 * The table that a sticker on the sheet comes from: that of its name, or the one that it is a copy of.
 *
 * @param {Table} document
 * @param {string} name
 * @returns {Table | null}
 */
export function tableOf(document, name) {
  const tables = /** @type {Table[]} */ (document.sticker ?? []);
  const own = tables.find((table) => table.name === name);
  const copy = /^(.+)-(\d+)$/.exec(name);
  return (
    own ??
    tables.find((table) => copy && table.name === copy[1] && Number(copy[2]) <= (table.copies ?? 1)) ??
    null
  );
}

/**
 * Whether a place can be decided on: copies lie where limner puts them.
 *
 * @param {Table | null} table
 */
export const canBePlaced = (table) => table !== null && (table.copies ?? 1) === 1;

/**
 * @param {Table} document
 * @param {SheetSticker[]} shown all stickers of the sheet, where they are seen
 * @param {Map<string, Place>} moved
 * @returns {Edit[]}
 */
export function placeEdits(document, shown, moved) {
  return shown.flatMap((sticker) => {
    const table = tableOf(document, sticker.name);
    if (!table || !canBePlaced(table)) return [];
    const place = moved.get(sticker.name);
    if (place) return placed(table, place);
    if (table.at || !sticker.placed) return [];
    return placed(table, { x: sticker.x_mm, y: sticker.y_mm, turn: sticker.turn_deg });
  });
}

/**
 * @param {Table} table
 * @param {Place} place
 * @returns {Edit[]}
 */
function placed(table, { x, y, turn }) {
  const at = [inMm(x), inMm(y)];
  const angle = turnOf(turn);
  /** @type {Edit[]} */
  const edits = [];
  if (String(table.at) !== String(at)) {
    edits.push({ what: "set", where: ["sticker", table.name, "at"], to: at });
  }
  if (angle !== (table.rotate ?? 0)) {
    edits.push({ what: "set", where: ["sticker", table.name, "rotate"], to: angle });
  }
  return edits;
}

/**
 * A turn as the job has it: from -180 to 180 degrees, in tenths.
 *
 * @param {number} degrees
 */
export function turnOf(degrees) {
  const turn = Number(((((degrees % 360) + 540) % 360) - 180).toFixed(1));
  return turn === -180 ? 180 : turn || 0;
}

/**
 * Leave places to limner again.
 *
 * @param {Table} document
 * @param {string[]} names
 * @returns {Edit[]}
 */
export function freeEdits(document, names) {
  return names.flatMap((name) => {
    const table = tableOf(document, name);
    return ["at", "rotate"]
      .filter((key) => table?.[key] !== undefined)
      .map((key) => ({ what: /** @type {const} */ ("unset"), where: ["sticker", table?.name, key] }));
  });
}
