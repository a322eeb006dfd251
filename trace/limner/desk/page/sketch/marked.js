/** Gaps that were bridged, and axes: marks in pencil that can be touched. */

import { svg } from "../dom.js";

/** @import { Axis, Box, Drawing, Point } from "../contract.js" */
/** @import { Sketch } from "./sketch.js" */

/** An axis runs beyond the figure by this much of its size; what it is turned by lies within. */
const BEYOND = 0.03;
const WITHIN = 0.06;

/** Size on the screen of the ends that an axis is turned by. */
const END_PX = 6;

/**
 * Bring the marks in step with a drawing; those that stay keep the focus.
 *
 * @param {SVGGElement} group
 * @param {Drawing | null} drawing
 */
export function showMarks(group, drawing) {
  group.style.setProperty("--size", String(END_PX));
  const wanted = drawing
    ? [
        ...drawing.bridges.map(({ d }, index) => bridgeMark(d, index)),
        ...drawing.axes.map((axis, index) => axisMark(axis, drawing, index)),
      ]
    : [];
  const there = [...group.children];
  for (const [i, mark] of wanted.entries()) {
    const old = there[i];
    if (old?.getAttribute("aria-label") !== mark.getAttribute("aria-label"))
      old ? old.replaceWith(mark) : group.append(mark);
    else old.replaceChildren(...mark.children);
  }
  for (const gone of there.slice(wanted.length)) gone.remove();
}

/**
 * @param {string} d
 * @param {number} index
 */
function bridgeMark(d, index) {
  const about = { "data-bridge": index, "aria-label": `Bridged gap ${index + 1}`, ...TOUCHABLE };
  return svg("g", about, svg("path", { d, class: "reach" }), svg("path", { d, class: "bridge" }));
}

/**
 * @param {Axis} axis
 * @param {Drawing | null} drawing
 * @param {number} index
 */
export function axisMark(axis, drawing, index) {
  const turn = (axis.angle_deg * Math.PI) / 180;
  const [cos, sin] = [Math.cos(turn), Math.sin(turn)];
  const { width_mm, height_mm } = figureOf(drawing);
  const size = Math.abs(width_mm * cos) + Math.abs(height_mm * sin);
  const [x, y] = middleOf(axis, drawing);
  const along = (/** @type {number} */ far) => [-far, far].map((way) => [x + way * cos, y + way * sin]);
  const d = `M${along(size * (0.5 + BEYOND))
    .map((end) => end.join(" "))
    .join("L")}`;
  return svg(
    "g",
    { "data-axis": index, "aria-label": `Axis ${index + 1}`, ...TOUCHABLE },
    svg("path", { d, class: "reach" }),
    svg("path", { d, class: "axis" }),
    ...along(size * (0.5 - WITHIN)).flatMap(([cx, cy], end) => [
      svg("circle", { cx, cy, class: "reach", "data-end": end }),
      svg("circle", { cx, cy, class: "end", "data-end": end }),
    ]),
  );
}

const TOUCHABLE = { role: "button", tabindex: 0, "aria-haspopup": "dialog" };

/**
 * The place of an axis that is nearest to the middle of the figure.
 *
 * @param {Axis} axis
 * @param {Drawing | null} drawing
 * @returns {Point}
 */
export function middleOf({ x_mm, y_mm, angle_deg }, drawing) {
  const figure = figureOf(drawing);
  const turn = (angle_deg * Math.PI) / 180;
  const [cos, sin] = [Math.cos(turn), Math.sin(turn)];
  const [dx, dy] = [figure.x_mm + figure.width_mm / 2 - x_mm, figure.y_mm + figure.height_mm / 2 - y_mm];
  const along = drawing ? dx * cos + dy * sin : 0;
  return [x_mm + along * cos, y_mm + along * sin];
}

/** @type {WeakMap<Drawing, Box>} */
const figures = new WeakMap();

/**
 * The box of all nodes of a drawing.
 *
 * @param {Drawing | null} drawing
 * @returns {Box}
 */
function figureOf(drawing) {
  const known = drawing && figures.get(drawing);
  if (known) return known;
  const nodes = [...(drawing?.fills ?? []), ...(drawing?.lines ?? [])].flatMap((shape) => shape.nodes);
  if (!drawing || nodes.length === 0) return { x_mm: 0, y_mm: 0, width_mm: 0, height_mm: 0 };
  const [left, top, right, foot] = nodes.reduce(
    ([x0, y0, x1, y1], [x, y]) => [Math.min(x0, x), Math.min(y0, y), Math.max(x1, x), Math.max(y1, y)],
    [Infinity, Infinity, -Infinity, -Infinity],
  );
  const box = { x_mm: left, y_mm: top, width_mm: right - left, height_mm: foot - top };
  figures.set(drawing, box);
  return box;
}

/**
 * Show an axis elsewhere at once, before the server has drawn what follows from it.
 *
 * @param {Sketch} sketch
 * @param {number} index
 * @param {Axis} axis
 */
export function showAxis(sketch, index, axis) {
  const { drawing } = sketch;
  if (!drawing) return;
  sketch.show({ ...drawing, axes: drawing.axes.map((one, i) => (i === index ? axis : one)) }, ["none"]);
}
