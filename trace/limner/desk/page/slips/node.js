/** The slip of a node: a corner, or smooth, or as it was found. */

import { svg } from "../dom.js";
import { kindOf, placesOf, turnNode } from "../edits/touches.js";
import { decideOn } from "./decide.js";
import { choiceField } from "./fields.js";

/** @import { Drawing, Table } from "../contract.js" */
/** @import { Sketch } from "../sketch/sketch.js" */
/** @import { SlipKind } from "./slips.js" */

const CHOICES = /** @type {const} */ (["corner", "smooth"]);

/** A touch this near to a node is about it. */
const NEAR_LINE_WIDTHS = 1.5;

/** @type {SlipKind<{of: string, index: number}>} */
export const nodeSlip = {
  fill(slip, about, here) {
    const sketch = /** @type {Sketch} */ (here.sketch);
    here.sketch?.choose([about.of]);
    const found = nodeAt(sketch.drawing, about);
    const [x_mm, y_mm] = found ?? [0, 0];
    sketch.trail.append(svg("circle", { cx: x_mm, cy: y_mm, class: "mark held" }));
    const near = (/** @type {Table} */ touch) => {
      const { drawing } = sketch;
      const [place] = drawing ? placesOf(touch, drawing.page) : [];
      if (!drawing || !place) return false;
      return Math.hypot(place[0] - x_mm, place[1] - y_mm) <= NEAR_LINE_WIDTHS * drawing.line_width_mm;
    };
    const touches = () => /** @type {Table[]} */ (here.desk.table(sketch.name).touch ?? []);
    const made = () =>
      touches()
        .filter((touch) => ["corner", "smooth"].includes(kindOf(touch)) && near(touch))
        .pop();
    const turn = (/** @type {"corner" | "smooth" | null} */ kind) => {
      const at = sketch.toFractions(x_mm, y_mm);
      const words =
        kind === null ? `Node of ${about.of} as found` : `Node of ${about.of} made ${WORDS[kind]}`;
      decideOn(sketch, "node", words, turnNode(sketch.name, touches(), { at, near }, kind));
    };
    const choice = choiceField("Turns", ["as found", ...CHOICES], (word) =>
      turn(word === "as found" ? null : word),
    );
    const is = document.createElement("p");
    is.className = "is";
    slip.put(is, choice.element);
    return () => {
      if (!found) return null;
      const now = made();
      choice.show(now ? /** @type {"corner" | "smooth"} */ (kindOf(now)) : "as found");
      const kind = nearest(sketch.drawing, about.of, x_mm, y_mm)?.[2] ?? found[2];
      is.textContent =
        kind === "corner" ? "The outline turns sharply here." : "The outline runs on smoothly here.";
      return `Node of ${about.of}`;
    };
  },
  gone(_about, here) {
    here.sketch?.trail.querySelector(".held")?.remove();
    here.sketch?.choose([]);
  },
};

const WORDS = { corner: "a corner", smooth: "smooth" };

/**
 * @param {Drawing | null} drawing
 * @param {string} name
 */
const shapeOf = (drawing, name) =>
  [...(drawing?.fills ?? []), ...(drawing?.lines ?? [])].find((shape) => shape.name === name);

/**
 * @param {Drawing | null} drawing
 * @param {{of: string, index: number}} about
 */
const nodeAt = (drawing, { of, index }) => shapeOf(drawing, of)?.nodes[index];

/**
 * @param {Drawing | null} drawing
 * @param {string} name
 * @param {number} x
 * @param {number} y
 */
function nearest(drawing, name, x, y) {
  const far = (/** @type {[number, number, string]} */ [nx, ny]) => Math.hypot(nx - x, ny - y);
  return [...(shapeOf(drawing, name)?.nodes ?? [])].sort((a, b) => far(a) - far(b))[0];
}
