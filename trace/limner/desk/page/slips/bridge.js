/** The slip of a gap that limner has closed: `about` is its number in the drawing. */

import { html } from "../dom.js";
import { addTouch } from "../edits/touches.js";
import { onPage } from "../hands/pencil.js";
import { decideOn } from "./decide.js";
import { deed, deeds } from "./fields.js";

/** @import { Bridge, Point } from "../contract.js" */
/** @import { Sketch } from "../sketch/sketch.js" */
/** @import { SlipKind } from "./slips.js" */

/** @type {SlipKind<number>} */
export const bridgeSlip = {
  fill(slip, index, here) {
    const sketch = /** @type {Sketch} */ (here.sketch);
    const bridge = sketch.drawing?.bridges[index];
    const open = deed("Leave it open", () => {
      if (bridge) decideOn(sketch, "bridge", "Gap left open", addTouch(sketch.name, { open: bridge.at }));
      here.slips.close();
    });
    const ink = deed("Ink it", () => {
      if (bridge)
        decideOn(sketch, "draw", "Gap inked", addTouch(sketch.name, { draw: courseOf(bridge, sketch) }));
      here.slips.close();
    });
    const keep = deed("Keep it", () => here.slips.close());
    slip.put(html("p", { class: "is" }, "limner has closed this gap, so that the areas beside it close."));
    slip.put(deeds("", keep, open, ink));
    return () => {
      const still = bridge && sketch.drawing?.bridges.some((one) => String(one.at) === String(bridge.at));
      return still ? "Bridged gap" : null;
    };
  },
};

/**
 * The line that closes the gap, as fractions of the page: its ends, and its middle where it bends.
 *
 * @param {Bridge} bridge
 * @param {Sketch} sketch
 * @returns {Point[]}
 */
function courseOf({ d }, sketch) {
  const numbers = (d.match(/-?\d+(?:\.\d+)?/g) ?? []).map(Number);
  const count = numbers.length / 2;
  const at = (/** @type {number} */ i) => onPage(sketch.toFractions(numbers[2 * i], numbers[2 * i + 1]));
  return count > 2 ? [at(0), at(Math.floor(count / 2)), at(count - 1)] : [at(0), at(count - 1)];
}
