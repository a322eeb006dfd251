/** Lengths of the job in millimetres, and millimetres as the job has them. */

import { ofJob } from "./lengths.js";

/** @import { Table } from "../contract.js" */

/** Millimetres of each unit that the job reads (an inch is 25.4 mm, a point a 72nd of it). */
const MM = /** @type {Record<string, number>} */ ({
  mm: 1,
  cm: 10,
  m: 1000,
  µm: 0.001,
  um: 0.001,
  in: 25.4,
  pt: 25.4 / 72,
  "": 1,
});

/**
 * @param {unknown} value of the job
 * @param {number} otherwise where the job says nothing that can be read
 * @returns {number}
 */
export function toMm(value, otherwise) {
  const typed = ofJob(value, "mm");
  const factor = typed && MM[typed.unit.toLowerCase()];
  return typed && factor ? typed.value * factor : otherwise;
}

/**
 * A length for the job: a hundredth of a millimetre is finer than any press or blade.
 *
 * @param {number} mm
 * @returns {string}
 */
export const inMm = (mm) => `${Number(mm.toFixed(2)) || 0} mm`;

/**
 * What the job says of a key of cut lines: the sticker's own first, then that of all.
 *
 * @param {Table} document
 * @param {Table} sticker
 * @param {string} key
 * @returns {unknown}
 */
export const ofCut = (document, sticker, key) => sticker.cut?.[key] ?? document.cut?.[key];
