/** What the touch hand finds besides areas: nodes, bridged gaps, axes, zones, touches; each has its own slip. */

/** @import { Here } from "../here.js" */
/** @import { Contact } from "../surface/pointers.js" */

/** @typedef {Pick<Contact, "x" | "y"> & {pointer?: string, keyboard?: boolean}} Place */

/** A finger means what lies this near to it, if it is small. */
const FINGER_PX = 13;

/** Slips by the attribute of what they are about, and what they are given. */
const THINGS = /** @type {const} */ ([
  ["data-touch", "touch"],
  ["data-node", "node"],
  ["data-bridge", "bridge"],
  ["data-axis", "axis"],
  ["data-zone", "zone"],
]);

/**
 * Open the slip of what lies under a contact.
 *
 * @param {Here} here
 * @param {Element} target
 * @param {Place} place
 * @returns {boolean} whether there is such a thing
 */
export function touchThing(here, target, place) {
  const near = place.pointer === "touch" ? underFinger(here, target, place) : target;
  for (const [attribute, kind] of THINGS) {
    const element = near.closest(`[${attribute}]`);
    if (!element) continue;
    const about = kind === "node" ? nodeOf(element) : Number(element.getAttribute(attribute));
    here.slips.open(kind, about, anchor(element, place));
    return true;
  }
  return false;
}

/**
 * @param {Here} here
 * @param {number} index
 * @param {Place} place
 */
export function touchZone(here, index, place) {
  const element = here.surface.querySelector(`[data-zone="${index}"]`);
  here.slips.open("zone", index, element ? anchor(element, place) : place);
}

/**
 * The nearest node or mark around a finger; where there is none, what lies under it.
 *
 * @param {Here} here
 * @param {Element} target
 * @param {Place} place
 */
function underFinger(here, target, { x, y }) {
  let [best, least] = [target, FINGER_PX];
  for (const small of here.surface.querySelectorAll("[data-node], [data-touch]")) {
    const box = small.getBoundingClientRect();
    const away = Math.hypot(box.x + box.width / 2 - x, box.y + box.height / 2 - y);
    if (away < least) [best, least] = [small, away];
  }
  return best;
}

/** @param {Element} element */
const nodeOf = (element) => ({
  of: element.getAttribute("data-of") ?? "",
  index: Number(element.getAttribute("data-index")),
});

/**
 * Small things are seen beside their slip; of large ones, the place that was touched.
 *
 * @param {Element} element
 * @param {Place} place
 */
function anchor(element, { x, y, keyboard }) {
  const box = element.getBoundingClientRect();
  const small = Math.max(box.width, box.height) < innerWidth / 3;
  return { x, y, box: small ? box : undefined, keyboard, from: element };
}

/**
 * Enter touches what has the focus.
 *
 * @param {SVGGElement} world
 * @param {(element: Element, place: Place) => void} touch
 */
export function thingsByKey(world, touch) {
  world.addEventListener("keydown", (event) => {
    const { target, key } = event;
    if (!(target instanceof Element) || target.closest("[data-area]") || (key !== "Enter" && key !== " "))
      return;
    event.preventDefault();
    const { x, y, width, height } = target.getBoundingClientRect();
    touch(target, { x: x + width / 2, y: y + height / 2, keyboard: true });
  });
}
