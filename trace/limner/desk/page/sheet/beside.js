/** Where slips lie on the sheet: beside it where there is room, so that the neighbours are seen, too. */

/** @import { Sheet } from "./sheet.js" */

/** A slip, and what it keeps clear of, take this much. */
const SLIP_PX = 272 + 40;

/**
 * @param {Sheet} sheet
 * @param {Element | null} thing what the slip is about
 * @returns {{box: DOMRect, beside: Element}}
 */
export function besideSheet(sheet, thing) {
  const page = sheet.page.getBoundingClientRect();
  const room = Math.max(page.left, window.innerWidth - page.right);
  const beside = room >= SLIP_PX || thing === null ? sheet.page : thing;
  return { box: beside.getBoundingClientRect(), beside };
}
