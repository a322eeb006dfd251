/** Touch: look at a thing. With Shift several areas are taken together, one by one or by going round them. */

import { goRound, isInside } from "../sketch/around.js";
import { outlinesOfShape } from "../sketch/outlines.js";
import { dragAxis } from "./axis.js";
import { pullLine } from "./pull.js";
import { touchThing } from "./things.js";

/** @import { Shape } from "../contract.js" */
/** @import { Here } from "../here.js" */
/** @import { Contact } from "../surface/pointers.js" */
/** @import { Anchor } from "../slips/slips.js" */
/** @import { Hand } from "./hands.js" */

/** @type {Hand} */
export const touchHand = {
  word: "touch",
  hint: "Touch an area to name and colour it",
  tap(contact, here) {
    if (!here.picking && !contact.shift && touchThing(here, contact.target, contact)) return;
    const area = here.sketch?.areaAt(contact);
    if (area) touchArea(here, area, contact);
    else if (!contact.shift) touchPaper(contact, here);
  },
  begin(contact, here) {
    const { sketch } = here;
    if (!sketch) return null;
    if (!contact.shift) return dragAxis(contact, here) ?? pullLine(contact, here);
    return goRound(sketch, contact, (areas, { x, y }) => {
      takeAreas(here, [...sketch.chosen, ...areas.map((area) => area.name)], { x, y });
    });
  },
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
  const chosen = new Set(shift ? (here.sketch?.chosen ?? []) : []);
  if (shift && chosen.has(area.name)) chosen.delete(area.name);
  else chosen.add(area.name);
  const from = elementOf(here, area.name);
  takeAreas(here, chosen, { x, y, box: from?.getBoundingClientRect(), keyboard, from });
}

/**
 * Take areas, and lay their slip beside them.
 *
 * @param {Here} here
 * @param {Iterable<string>} names
 * @param {Anchor} anchor
 */
export function takeAreas(here, names, anchor) {
  const chosen = new Set(names);
  here.slips.close();
  here.sketch?.choose(chosen);
  if (chosen.size > 0) here.slips.open("area", null, anchor);
}

/**
 * @param {Here} here
 * @param {string} name
 * @returns {SVGElement | null}
 */
const elementOf = (here, name) => here.surface.querySelector(`[data-area="${CSS.escape(name)}"]`);

/**
 * Beside all areas: a slip that lies there goes; else that of the lines, or of the whole sketch, comes.
 *
 * @param {Contact} contact
 * @param {Here} here
 */
function touchPaper({ x, y, x_mm, y_mm }, here) {
  const { sketch, slips } = here;
  if (slips.now || here.picking) return slips.close();
  const inked = sketch?.drawing?.lines.some((line) => {
    const rings = outlinesOfShape(line).filter((ring) => isInside(ring, [x_mm, y_mm]));
    return rings.length % 2 === 1;
  });
  slips.open(inked ? "lines" : "sketch", null, { x, y });
}
