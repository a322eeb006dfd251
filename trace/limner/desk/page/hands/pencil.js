/** A stroke of the pencil or of the rubber: seen while it is made, written as few points when it is done. */

import { svg } from "../dom.js";
import { addTouch } from "../edits/touches.js";
import { letGo } from "../marks.js";
import { linger } from "./linger.js";
import { fewPoints, pathThrough, smoothLine } from "./spline.js";
import { Way } from "./way.js";

/** @import { Point } from "../contract.js" */
/** @import { Here } from "../here.js" */
/** @import { Sketch } from "../sketch/sketch.js" */
/** @import { Contact, Stroke } from "../surface/pointers.js" */

/**
 * @typedef {object} Tool
 * @property {"draw" | "rub" | "part"} kind
 * @property {string} words what undo calls a stroke of it
 * @property {(sketch: Sketch) => number} width_mm
 * @property {(sketch: Sketch, pressures: number[]) => number | null} written the width that is written; null: none
 */

/** A line may leave the way of the hand by this much: less than its tremor. */
const TOLERANCE_LINE_WIDTHS = 0.2;

/** And by no less than what can be seen. */
const TOLERANCE_PX = 0.7;

/** A pen that does not tell how firmly it is pressed. */
const HALF = 0.5;

/** A dot is a line as long as this. */
const DOT_WIDTHS = 0.4;

/**
 * @param {Contact} contact where it begins
 * @param {Here} here
 * @param {Tool} tool
 * @returns {Stroke | null}
 */
export function pencilStroke(contact, here, tool) {
  const { sketch } = here;
  if (!sketch?.drawing) return null;
  const way = new Way(sketch, contact);
  const pressures = contact.pointer === "pen" ? [contact.pressure ?? HALF] : [];
  const mark = svg("path", { class: `stroke ${tool.kind}`, "stroke-width": tool.width_mm(sketch) });
  sketch.trail.append(mark);
  return {
    move({ x_mm, y_mm, pointer, pressure }) {
      way.add(x_mm, y_mm);
      if (pointer === "pen") pressures.push(pressure ?? HALF);
      mark.setAttribute("d", pathThrough(way.points));
      mark.setAttribute("stroke-width", String(tool.written(sketch, pressures) ?? tool.width_mm(sketch)));
    },
    end: () => strike(here, sketch, tool, way.points, pressures, mark),
    cancel: () => mark.remove(),
  };
}

/**
 * A touch without a stroke: a dot.
 *
 * @param {Contact} contact
 * @param {Here} here
 * @param {Tool} tool
 */
export function pencilDot({ x_mm, y_mm }, here, tool) {
  const { sketch } = here;
  if (!sketch?.drawing) return;
  const half = (tool.width_mm(sketch) * DOT_WIDTHS) / 2;
  const mark = svg("path", { class: `stroke ${tool.kind}`, "stroke-width": tool.width_mm(sketch) });
  sketch.trail.append(mark);
  strike(
    here,
    sketch,
    tool,
    [
      [x_mm - half, y_mm],
      [x_mm + half, y_mm],
    ],
    [],
    mark,
  );
}

/**
 * @param {Here} here
 * @param {Sketch} sketch
 * @param {Tool} tool
 * @param {Point[]} way
 * @param {number[]} pressures
 * @param {SVGPathElement} mark
 */
function strike(here, sketch, tool, way, pressures, mark) {
  const lineWidth = sketch.drawing?.line_width_mm ?? 1;
  const few = fewPoints(way, Math.max(TOLERANCE_LINE_WIDTHS * lineWidth, TOLERANCE_PX / sketch.view.scale));
  const points = apart(few.map(([x, y]) => onPage(sketch.toFractions(x, y))));
  if (points.length < 2) return mark.remove();
  mark.setAttribute("d", pathThrough(smoothLine(few)));
  const width = tool.written(sketch, pressures);
  letGo(tool.kind);
  const touch = {
    [tool.kind]: points,
    ...(width === null ? {} : { width: `${Number(width.toFixed(2))} mm` }),
  };
  void sketch.decide(`${tool.words} on ${sketch.name}`, addTouch(sketch.name, touch));
  linger(here, mark);
}

/** @param {Point} point */
export const onPage = ([x, y]) =>
  /** @type {Point} */ ([Math.min(1, Math.max(0, x)), Math.min(1, Math.max(0, y))]);

/** @param {Point[]} points */
const apart = (points) => points.filter((point, i) => i === 0 || String(point) !== String(points[i - 1]));
