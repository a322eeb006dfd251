/** The slip "The rest": stickers that have no place of their own keep where they lie, or are laid out anew. */

import { html } from "../dom.js";
import { freeEdits, placeEdits, tableOf, canBePlaced } from "../edits/places.js";
import { deed, deeds } from "./fields.js";
import { decide } from "./onsheet.js";

/** @import { Here } from "../here.js" */
/** @import { Sheet } from "../sheet/sheet.js" */
/** @import { SlipKind } from "./slips.js" */

/** @type {SlipKind<null>} */
export const restSlip = {
  fill(slip, _about, here) {
    const sheet = /** @type {Sheet} */ (here.sheet);
    const says = html("p", { class: "said" });
    const keep = deed("Keep them where they lie", () => {
      void decide(here, "Places of the rest", placeEdits(here.desk.state.document, sheet.seen(), new Map()));
    });
    const anew = deed("", () => {
      void decide(
        here,
        "Places of the rest left to limner",
        freeEdits(here.desk.state.document, othersOf(here, sheet)),
      );
    });
    slip.put(says, deeds("", keep), deeds("", anew));
    return () => {
      const free = freeOf(here);
      const others = othersOf(here, sheet);
      says.textContent = saidOf(free.length, others.length);
      keep.disabled = free.length === 0;
      anew.disabled = others.length === 0;
      anew.textContent = sheet.taken.size > 0 ? "Lay out all but those taken" : "Lay out all of them anew";
      return "The rest";
    };
  },
};

/**
 * @param {Here} here
 * @returns {string[]} names in the job of those without a place
 */
export const freeOf = (here) =>
  (here.desk.state.document.sticker ?? [])
    .filter((/** @type {Record<string, any>} */ table) => canBePlaced(table) && !table.at)
    .map((/** @type {Record<string, any>} */ table) => table.name);

/**
 * Those that have a place and are not taken.
 *
 * @param {Here} here
 * @param {Sheet} sheet
 */
const othersOf = (here, sheet) =>
  (sheet.sheet?.stickers ?? [])
    .map(({ name }) => name)
    .filter((name) => !sheet.taken.has(name) && tableOf(here.desk.state.document, name)?.at);

/**
 * @param {number} free
 * @param {number} placed
 */
function saidOf(free, placed) {
  if (free === 0) return `All ${placed} stickers have a place of their own.`;
  const them = free === 1 ? "One sticker has" : `${free} stickers have`;
  return `${them} no place of their own: limner lays them out, and anew whenever something changes.`;
}
