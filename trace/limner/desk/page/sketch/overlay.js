/** What the blue pencil draws over the shapes: the area under the pointer, the chosen ones, gaps, axes. */

import { svg } from "../dom.js";

/** @import { Drawing, Shape } from "../contract.js" */

/**
 * Outline areas in pencil.
 *
 * @param {SVGGElement} group
 * @param {Iterable<Shape>} shapes
 * @param {string} look class of the outline
 */
export function outline(group, shapes, look) {
  for (const old of group.querySelectorAll(`.${look}`)) old.remove();
  for (const shape of shapes) group.append(svg("path", { d: shape.d, class: `mark ${look}` }));
}

/**
 * Gaps that were bridged, and axes.
 *
 * @param {SVGGElement} group
 * @param {Drawing | null} drawing
 */
export function showMarks(group, drawing) {
  group.replaceChildren();
  if (!drawing) return;
  const reach = Math.hypot(drawing.width_mm, drawing.height_mm);
  for (const [index, bridge] of drawing.bridges.entries()) {
    group.append(svg("path", { d: bridge.d, class: "bridge", "data-bridge": index }));
  }
  for (const [index, axis] of drawing.axes.entries()) {
    const turn = (axis.angle_deg * Math.PI) / 180;
    const [dx, dy] = [Math.cos(turn) * reach, Math.sin(turn) * reach];
    const d = `M${axis.x_mm - dx} ${axis.y_mm - dy}L${axis.x_mm + dx} ${axis.y_mm + dy}`;
    group.append(svg("path", { d, class: "axis", "data-axis": index }));
  }
}
