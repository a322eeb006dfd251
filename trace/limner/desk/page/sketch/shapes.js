/** Shapes of a drawing as elements that stay the same ones while the drawing changes. */

import { assign, svg } from "../dom.js";

/** @import { Drawing, Shape } from "../contract.js" */

/**
 * Bring a group of paths in step with shapes: one path for each, bottom to top.
 *
 * @param {SVGGElement} group
 * @param {Shape[]} shapes
 * @param {(shape: Shape) => string} colourOf its colour in words, for those who do not see it
 */
export function showShapes(group, shapes, colourOf) {
  /** @type {Map<string, Element>} */
  const known = new Map([...group.children].map((path) => [path.getAttribute("data-key") ?? "", path]));
  let next = group.firstElementChild;
  for (const shape of shapes) {
    const key = `${shape.role} ${shape.name}`;
    const path = known.get(key) ?? svg("path", { "data-key": key });
    known.delete(key);
    assign(path, attributesOf(shape, colourOf));
    if (path === next) next = next.nextElementSibling;
    else group.insertBefore(path, next);
  }
  for (const gone of known.values()) gone.remove();
}

/**
 * @param {Shape} shape
 * @param {(shape: Shape) => string} colourOf
 */
function attributesOf(shape, colourOf) {
  const drawn = { d: shape.d, fill: shape.fill, "fill-rule": "evenodd" };
  if (shape.role === "silhouette") return { ...drawn, "data-base": shape.name, class: "base" };
  if (shape.role !== "area") return { ...drawn, "data-line": shape.name, class: "line" };
  return {
    ...drawn,
    "data-area": shape.name,
    class: "area",
    role: "button",
    tabindex: 0,
    "aria-label": `${shape.name}, ${colourOf(shape)}`,
    "aria-haspopup": "dialog",
  };
}

/**
 * @param {Drawing | null} drawing
 * @param {string} name
 * @returns {Shape | undefined} the area of this name
 */
export const areaOf = (drawing, name) =>
  drawing?.fills.find((shape) => shape.role === "area" && shape.name === name);

/**
 * Everything that is a certain element's: an area, by the element that lies under a pointer.
 *
 * @param {Drawing | null} drawing
 * @param {Element | null} element
 * @returns {Shape | undefined}
 */
export function areaAt(drawing, element) {
  const name = element?.closest("[data-area]")?.getAttribute("data-area");
  return name === null || name === undefined ? undefined : areaOf(drawing, name);
}

/**
 * An area of one drawing in another one, in which it may have another name.
 *
 * @param {Drawing | null} before
 * @param {string} name its name in the first
 * @param {Drawing} after
 * @returns {Shape | undefined}
 */
export function sameAs(before, name, after) {
  const was = areaOf(before, name);
  const there = areaOf(after, name);
  if (there || !was) return there;
  const areas = after.fills.filter((shape) => shape.role === "area");
  return (
    areas.find((shape) => shape.d === was.d) ?? areas.find((shape) => String(shape.at) === String(was.at))
  );
}
