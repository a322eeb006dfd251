/** Draw a line that is missing. */

/** @import { Hand } from "./hands.js" */

/** @type {Hand} */
export const drawHand = {
  word: "draw",
  hint: "Draw a line that is missing",
  tap: () => undefined,
  begin: () => null,
};
