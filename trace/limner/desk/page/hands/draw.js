/** Draw a line that is missing; a pen draws it as wide as it is pressed. */

import { choiceField } from "../slips/fields.js";
import { pencilDot, pencilStroke } from "./pencil.js";
import { Width } from "./width.js";

/** @import { Hand } from "./hands.js" */
/** @import { Tool } from "./pencil.js" */

/** A pen that is pressed half draws the usual width; the lightest and the firmest touch draw this much of it. */
const LIGHTEST = 0.4;
const FIRMEST = 2;

const width = new Width(1);

/** Whether what is drawn parts fills alone, and is never inked. */
let parts = false;

/** @type {Tool} */
const pencil = {
  get kind() {
    return parts ? "part" : "draw";
  },
  get words() {
    return parts ? "Area parted" : "Line drawn";
  },
  width_mm: (sketch) => width.of(sketch),
  written(sketch, pressures) {
    if (parts) return null;
    if (pressures.length === 0) return width.own_mm;
    const mean = pressures.reduce((sum, one) => sum + one, 0) / pressures.length;
    return width.of(sketch) * Math.min(FIRMEST, Math.max(LIGHTEST, 2 * mean));
  },
};

/** @type {Hand} */
export const drawHand = {
  word: "draw",
  draws: true,
  hint: "Draw a line that is missing",
  take(here) {
    const line = choiceField("Line", ["inked", "for fills alone"], (word) => {
      parts = word === "for fills alone";
    });
    line.show(parts ? "for fills alone" : "inked");
    width.lay(here, line.element);
  },
  drop: () => width.take(),
  tap: (contact, here) => pencilDot(contact, here, pencil),
  begin: (contact, here) => pencilStroke(contact, here, pencil),
};
