/** Nodes: those of the chosen areas always, all of them once the paper is near enough. */

import { svg } from "../dom.js";

/** @import { Box, Drawing, Shape } from "../contract.js" */
/** @import { View } from "../surface/view.js" */

/** Nodes are shown once their neighbours lie this far apart on the screen, in the middle. */
const NEAR_ENOUGH_PX = 110;

/** No more than this many at once, or they hide what they belong to. */
const MOST = 600;

/** Size of a node on the screen. */
const RADIUS_PX = 4;

/**
 * Show the nodes that are to be seen now.
 *
 * @param {SVGGElement} group
 * @param {Drawing | null} drawing
 * @param {{view: View, chosen: ReadonlySet<string>, seen: Box}} eye
 */
export function showNodes(group, drawing, { view, chosen, seen }) {
  group.style.setProperty("--px", `${1 / view.scale}px`);
  if (!drawing) return group.replaceChildren();
  const near = middleDistance_mm(drawing) * view.scale >= NEAR_ENOUGH_PX;
  const shapes = [...drawing.fills, ...drawing.lines].filter(
    (shape) => (shape.role === "area" && chosen.has(shape.name)) || (near && shape.role !== "silhouette"),
  );
  const key = `${drawing.token} ${shapes.map((shape) => shape.name).join()} ${near ? Object.values(seen).map(Math.round).join() : ""}`;
  if (group.dataset.shown === key) return;
  group.dataset.shown = key;
  group.replaceChildren(...shapes.flatMap((shape) => nodesOf(shape, seen)).slice(0, MOST));
}

/** @type {WeakMap<Drawing, number>} */
const distances = new WeakMap();

/**
 * The median distance from a node to the next one.
 *
 * @param {Drawing} drawing
 */
function middleDistance_mm(drawing) {
  const known = distances.get(drawing);
  if (known !== undefined) return known;
  const all = [...drawing.fills, ...drawing.lines].flatMap(({ nodes }) =>
    nodes.slice(1).map(([x, y], i) => Math.hypot(x - nodes[i][0], y - nodes[i][1])),
  );
  all.sort((a, b) => a - b);
  const middle = all[Math.floor(all.length / 2)] ?? 0;
  distances.set(drawing, middle);
  return middle;
}

/**
 * @param {Shape} shape
 * @param {Box} seen
 * @returns {SVGElement[]}
 */
function nodesOf(shape, seen) {
  const { x_mm, y_mm, width_mm, height_mm } = seen;
  return shape.nodes.flatMap(([x, y, kind], index) => {
    const inside = x >= x_mm && x <= x_mm + width_mm && y >= y_mm && y <= y_mm + height_mm;
    if (!inside) return [];
    const about = {
      "data-node": kind,
      "data-of": shape.name,
      "data-index": index,
      role: "img",
      "aria-label": `Node of ${shape.name}, ${kind}`,
    };
    const node =
      kind === "smooth" ? svg("circle", { cx: x, cy: y, ...about }) : svg("rect", { x, y, ...about });
    node.style.setProperty("--size", String(RADIUS_PX));
    return [node];
  });
}
