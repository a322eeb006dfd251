/** Another colour is seen at once: all that has the old one on the screen has the new one. */

/** @import { Sheet } from "../contract.js" */

/**
 * @param {Sheet} sheet
 * @param {string} from "#rrggbb"
 * @param {string} to
 * @returns {Sheet}
 */
export function recoloured(sheet, from, to) {
  const instead = (/** @type {string | null} */ colour) =>
    colour?.toLowerCase() === from.toLowerCase() ? to : colour;
  const all = new RegExp(from, "gi");
  return {
    ...sheet,
    page: { ...sheet.page, background: instead(sheet.page.background) },
    stickers: sheet.stickers.map((one) => ({ ...one, svg: one.svg?.replace(all, to) ?? null })),
    lettering: sheet.lettering.map((one) => ({ ...one, fill: instead(one.fill) })),
  };
}
