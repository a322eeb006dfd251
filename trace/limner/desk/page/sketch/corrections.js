/** What was corrected by hand, in pencil over the shapes: zones as dashed rings, touches as small marks. */

import { svg } from "../dom.js";
import { calledAs, placesOf } from "../edits/touches.js";
import { zoneOutline } from "../edits/zones.js";
import { smoothLine } from "../hands/spline.js";

/** @import { Point, Table } from "../contract.js" */
/** @import { Sketch } from "./sketch.js" */

/** Size of a mark on the screen. */
const RADIUS_PX = 5;

/**
 * @param {Sketch} sketch
 */
export function showCorrections(sketch) {
  const { corrections, drawing, desk, name } = sketch;
  corrections.style.setProperty("--size", String(RADIUS_PX));
  /** @type {{zone?: Table[], touch?: Table[]}} */
  const { zone = [], touch = [] } = desk.table(name);
  const key = drawing ? JSON.stringify([zone, touch, drawing.page]) : "";
  // The outline of a zone that is named is that of its area, which changes with the drawing.
  if (corrections.dataset.shown === key && !zone.some((one) => one.area !== undefined)) return;
  corrections.dataset.shown = key;
  if (!drawing) return corrections.replaceChildren();
  corrections.replaceChildren(
    ...zone.map((one, index) => zoneMark(sketch, one, index)),
    ...touch.flatMap((one, index) => touchMark(sketch, one, index)),
  );
}

/**
 * The outline of a zone in millimetres of the drawing.
 *
 * @param {Sketch} sketch
 * @param {Table} zone
 * @returns {Point[]}
 */
export function outlineOf(sketch, zone) {
  const { drawing } = sketch;
  if (!drawing) return [];
  if (typeof zone.area !== "string") return zoneOutline(zone, drawing.page);
  const area = drawing.fills.find((shape) => shape.role === "area" && shape.name === zone.area);
  return (area?.nodes ?? []).map(([x, y]) => [x, y]);
}

/**
 * @param {Sketch} sketch
 * @param {Table} zone
 * @param {number} index
 */
function zoneMark(sketch, zone, index) {
  const outline = outlineOf(sketch, zone);
  const d = outline.length > 0 ? `${path(outline)}Z` : "";
  const about = { "data-zone": index, "aria-label": zoneName(zone, index) };
  return touchable(about, svg("path", { d, class: "reach" }), svg("path", { d, class: "zone" }));
}

/**
 * @param {Table} zone
 * @param {number} index
 * @returns {string}
 */
export const zoneName = (zone, index) => zone.name ?? `Zone ${index + 1}`;

/**
 * A dot to touch, and after it the course of the touch, which is seen while the dot is pointed at.
 *
 * @param {Sketch} sketch
 * @param {Table} touch
 * @param {number} index
 * @returns {SVGElement[]}
 */
function touchMark(sketch, touch, index) {
  const { drawing } = sketch;
  const places = drawing ? placesOf(touch, drawing.page) : [];
  if (places.length === 0) return [];
  const [cx, cy] = places[Math.floor((places.length - 1) / 2)];
  const about = { "data-touch": index, "aria-label": `${calledAs(touch)}, ${index + 1}` };
  const dot = [svg("circle", { cx, cy, class: "reach" }), svg("circle", { cx, cy, class: "dot" })];
  const course = places.length > 1 ? [svg("path", { d: path(smoothLine(places)), class: "course" })] : [];
  return [touchable(about, ...dot), ...course];
}

/**
 * @param {import("../dom.js").Attributes} about
 * @param {...SVGElement} marks
 */
const touchable = (about, ...marks) =>
  svg("g", { role: "button", tabindex: 0, "aria-haspopup": "dialog", ...about }, ...marks);

/** @param {Point[]} points */
const path = (points) => `M${points.map(([x, y]) => `${x.toFixed(3)} ${y.toFixed(3)}`).join("L")}`;
