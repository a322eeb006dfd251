/** The slip of the lines of a sketch: how they are drawn, and in which colour. */

import { colourField } from "./colours.js";
import { linesOf } from "./sketch.js";
import { decideOn } from "./decide.js";

/** @import { Sketch } from "../sketch/sketch.js" */
/** @import { SlipKind } from "./slips.js" */

/** @type {SlipKind<null>} */
export const linesSlip = {
  fill(slip, _about, here) {
    const sketch = /** @type {Sketch} */ (here.sketch);
    const lines = linesOf(here, sketch);
    const ink = inkOf(here, sketch);
    slip.put(lines.element, ink.element);
    return () => {
      if (!sketch.drawing) return null;
      lines.show();
      ink.show();
      return "Lines";
    };
  },
};

/**
 * @param {import("../here.js").Here} here
 * @param {Sketch} sketch
 */
export function inkOf(here, sketch) {
  const where = ["sticker", sketch.name, "ink"];
  const field = colourField("Ink", here, {
    found: () => [],
    save(name, screen) {
      decideOn(sketch, "colour", `Ink of ${sketch.name}`, [
        name === null ? { what: "unset", where } : { what: "set", where, to: name },
      ]);
      if (/^#[0-9a-f]{6}$/i.test(screen)) showInk(sketch, screen);
    },
  });
  return { element: field.element, show: () => field.show(here.desk.table(sketch.name).ink ?? "black") };
}

/**
 * Show the lines in another colour at once.
 *
 * @param {Sketch} sketch
 * @param {string} screen
 */
function showInk(sketch, screen) {
  const { drawing } = sketch;
  if (drawing)
    sketch.show({ ...drawing, lines: drawing.lines.map((line) => ({ ...line, fill: screen })) }, ["colour"]);
}
