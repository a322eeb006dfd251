/** Go round a part to give it its own smoothing. */

/** @import { Hand } from "./hands.js" */

/** @type {Hand} */
export const ringHand = {
  word: "ring",
  hint: "Go round a part to give it its own smoothing",
  tap: () => undefined,
  begin: () => null,
};
