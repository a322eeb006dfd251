/** The paper comes up from where it lay on the sheet, for those who do not mind things that move. */

/** @import { Box } from "../contract.js" */
/** @import { View } from "./view.js" */

/** Long enough to be followed with the eye, short enough not to be waited for. */
const GLIDE_MS = 220;

/**
 * Fit a part of the paper into a part of the screen, coming from another one.
 *
 * @param {View} view
 * @param {Box} box
 * @param {{x: number, y: number, width: number, height: number}} from
 * @param {{x: number, y: number, width: number, height: number}} to
 */
export function glide(view, box, from, to) {
  if (matchMedia("(prefers-reduced-motion: reduce)").matches || from.width < 1) return view.fit(box, to);
  const begun = performance.now();
  view.isMoved = false;
  const step = () => {
    // Whoever takes the paper in hand meanwhile has it.
    if (view.isMoved) return;
    const share = Math.min(1, (performance.now() - begun) / GLIDE_MS);
    const eased = 1 - (1 - share) ** 3;
    const between = (/** @type {number} */ a, /** @type {number} */ b) => a + (b - a) * eased;
    view.fit(box, {
      x: between(from.x, to.x),
      y: between(from.y, to.y),
      width: between(from.width, to.width),
      height: between(from.height, to.height),
    });
    if (share < 1) requestAnimationFrame(step);
  };
  step();
}
