/** Touch: look at a thing. Shift takes several areas together. */

/** @import { Shape } from "../contract.js" */
/** @import { Here } from "../here.js" */
/** @import { Contact } from "../surface/pointers.js" */
/** @import { Hand } from "./hands.js" */

/** @type {Hand} */
export const touchHand = {
  word: "touch",
  hint: "Touch an area to name and colour it",
  tap(contact, here) {
    const area = here.sketch?.areaAt(contact);
    if (area) touchArea(here, area, contact);
    else if (!contact.shift) here.slips.close();
  },
  begin: () => null,
};

/**
 * Take an area and open its slip, or give it to whoever asked for one.
 *
 * @param {Here} here
 * @param {Shape} area
 * @param {Pick<Contact, "x" | "y" | "shift"> & {keyboard?: boolean}} contact
 */
export function touchArea(here, area, { x, y, shift, keyboard }) {
  if (here.picking) {
    const { take } = here.picking;
    here.pick(null);
    return take(area);
  }
  const before = shift ? (here.sketch?.chosen ?? []) : [];
  const chosen = new Set(before);
  if (shift && chosen.has(area.name)) chosen.delete(area.name);
  else chosen.add(area.name);
  const from = /** @type {Element | null} */ (here.surface.querySelector(`[data-area="${CSS.escape(area.name)}"]`));
  here.slips.close();
  here.sketch?.choose(chosen);
  if (chosen.size > 0) here.slips.open("area", null, { x, y, box: from?.getBoundingClientRect(), keyboard, from });
}
