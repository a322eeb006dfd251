/** Rub out what is not meant. */

/** @import { Hand } from "./hands.js" */

/** @type {Hand} */
export const rubHand = {
  word: "rub",
  hint: "Rub out what is not meant",
  tap: () => undefined,
  begin: () => null,
};
