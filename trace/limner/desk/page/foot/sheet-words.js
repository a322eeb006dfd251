/** Words at the foot of the sheet. */

import { button } from "../dom.js";
import { besideSheet } from "../sheet/beside.js";
import { newLettering } from "../sheet/lettering.js";

/** @import { Here } from "../here.js" */
/** @import { Sheet } from "../sheet/sheet.js" */

/**
 * @param {Here} here
 * @param {Sheet} sheet
 * @returns {HTMLElement[]}
 */
export function sheetWords(here, sheet) {
  const rest = button("Place the rest", () => open("rest", rest), { "aria-haspopup": "dialog" });
  const colours = button("Colours", () => open("palette", colours), { "aria-haspopup": "dialog" });
  const lettering = button("New lettering", () => newLettering(here, sheet));
  const open = (/** @type {string} */ kind, /** @type {HTMLElement} */ from) => {
    const { x, y, width } = from.getBoundingClientRect();
    const place = {
      x: x + width / 2,
      y,
      ...besideSheet(sheet, null),
      keyboard: from.matches(":focus-visible"),
      from,
    };
    here.slips.open(kind, null, place);
  };
  return [rest, lettering, colours];
}
