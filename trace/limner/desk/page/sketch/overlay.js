/** What the blue pencil draws over the shapes: the area under the pointer, the chosen ones. */

import { svg } from "../dom.js";

/** @import { Shape } from "../contract.js" */

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
