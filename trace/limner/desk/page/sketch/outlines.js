/** Outlines of a drawing as polylines, for what looks for the nearest edge. */

/** @import { Drawing, Point, Shape } from "../contract.js" */

/** Samples of a curve between two nodes. */
const SAMPLES = 12;

/** @type {WeakMap<Drawing, Point[][]>} */
const known = new WeakMap();

/**
 * The edges that are seen: those of the lines; where there are none, those of the areas.
 *
 * @param {Drawing | null} drawing
 * @returns {Point[][]} closed: the last point is the first one again
 */
export function outlinesOf(drawing) {
  if (!drawing) return [];
  const found = known.get(drawing);
  if (found) return found;
  const shapes =
    drawing.lines.length > 0 ? drawing.lines : drawing.fills.filter(({ role }) => role === "area");
  const outlines = shapes.flatMap(outlinesOfShape);
  known.set(drawing, outlines);
  return outlines;
}

/**
 * @param {Shape} shape its data hold M, L, C and Z, absolute
 * @returns {Point[][]}
 */
export function outlinesOfShape({ d }) {
  /** @type {Point[][]} */
  const outlines = [];
  for (const [, letter, rest] of d.matchAll(/([MLCZ])([^MLCZ]*)/g)) {
    const numbers = (rest.match(/-?\d+(?:\.\d+)?(?:e-?\d+)?/g) ?? []).map(Number);
    if (letter === "M") outlines.push([[numbers[0], numbers[1]]]);
    const outline = outlines[outlines.length - 1];
    if (letter === "L") outline.push([numbers[0], numbers[1]]);
    else if (letter === "C") addCurve(outline, numbers);
    else if (letter === "Z") outline.push(outline[0]);
  }
  return outlines;
}

/**
 * @param {Point[]} outline
 * @param {number[]} numbers two handles and an end
 */
function addCurve(outline, [x1, y1, x2, y2, x3, y3]) {
  const [x0, y0] = outline[outline.length - 1];
  for (let i = 1; i <= SAMPLES; i += 1) {
    const b = i / SAMPLES;
    const a = 1 - b;
    const [w0, w1, w2, w3] = [a ** 3, 3 * a * a * b, 3 * a * b * b, b ** 3];
    outline.push([w0 * x0 + w1 * x1 + w2 * x2 + w3 * x3, w0 * y0 + w1 * y1 + w2 * y2 + w3 * y3]);
  }
}
