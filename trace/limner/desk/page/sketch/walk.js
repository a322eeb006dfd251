/** From area to area by the arrow keys; Enter touches the one that has the focus. */

/**
 * @param {SVGGElement} group
 * @param {(area: Element, shift: boolean) => void} touch
 */
export function walkAreas(group, touch) {
  group.addEventListener("keydown", (event) => {
    const here = event.target instanceof Element ? event.target.closest("[data-area]") : null;
    if (!here || event.ctrlKey || event.metaKey || event.altKey) return;
    const direction = DIRECTIONS[event.key];
    if (direction) nearest(group, here, ...direction)?.focus();
    else if (touches(event, here)) touch(here, event.shiftKey);
    else return;
    event.preventDefault();
  });
}

/**
 * Enter touches, and so does the space bar for whoever goes by keys; to others it moves the paper.
 *
 * @param {KeyboardEvent} event
 * @param {Element} here
 */
const touches = (event, here) =>
  event.key === "Enter" || (event.key === " " && here.matches(":focus-visible"));

/** @type {Record<string, [number, number]>} */
const DIRECTIONS = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };

/** What lies aside of the direction counts as so much farther away. */
const ASIDE = 2.5;

/**
 * @param {SVGGElement} group
 * @param {Element} here
 * @param {number} dx
 * @param {number} dy
 * @returns {SVGElement | null}
 */
function nearest(group, here, dx, dy) {
  const from = middle(here);
  let best = null;
  let least = Infinity;
  for (const area of /** @type {NodeListOf<SVGElement>} */ (group.querySelectorAll("[data-area]"))) {
    const to = middle(area);
    const along = (to.x - from.x) * dx + (to.y - from.y) * dy;
    const aside = Math.abs((to.x - from.x) * dy) + Math.abs((to.y - from.y) * dx);
    const far = along + ASIDE * aside;
    if (area !== here && along > 0.5 && far < least) [best, least] = [area, far];
  }
  return best;
}

/** @param {Element} element */
function middle(element) {
  const { x, y, width, height } = element.getBoundingClientRect();
  return { x: x + width / 2, y: y + height / 2 };
}
