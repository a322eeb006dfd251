/** How far stickers reach on the sheet, cut lines and all. */

import { carried, pointsOf } from "./outlines.js";

/** @import { Extent } from "../edits/together.js" */
/** @import { Sheet } from "./sheet.js" */

/**
 * @param {Sheet} sheet
 * @param {string[]} names
 * @returns {Extent[]} in mm of the trimmed sheet
 */
export function extentsOf(sheet, names) {
  return names.flatMap((name) => {
    const sticker = sheet.shown(name);
    if (!sticker?.d_cut) return [];
    const from = { x: sticker.x_mm, y: sticker.y_mm, turn: sticker.turn_deg, scale: 1 };
    return [{ name, ...carried(pointsOf(sticker.d_cut), from, sheet.poseOf(name)).box }];
  });
}
