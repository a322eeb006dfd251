/** Soft marks: where something would not hold (no refusal, a smudge of pencil), and how a cut line would lie. */

import { svg } from "../dom.js";

/** @import { Mark } from "./holds.js" */

/** The line that shows how a cut line would lie is this wide. */
const LINE_PX = 1.5;

export class SoftMarks {
  constructor() {
    this.marks = svg("g", {});
    this.lines = svg("g", {});
    this.element = svg("g", { class: "softs", "aria-hidden": true }, this.lines, this.marks);
    this.count = 0;
  }

  /** @param {Mark[]} marks */
  show(marks) {
    while (this.marks.childElementCount < marks.length) {
      this.marks.append(svg("circle", { class: "soft", "data-soft": true }));
    }
    [...this.marks.children].forEach((circle, index) => {
      const mark = marks[index];
      circle.setAttribute("visibility", mark ? "visible" : "hidden");
      if (mark) circle.setAttribute("transform", `translate(${mark.at[0]} ${mark.at[1]})`);
    });
  }

  clear() {
    this.marks.replaceChildren();
    this.lines.replaceChildren();
  }

  /**
   * Lines beside cut lines.
   *
   * @param {string[] | null} cuts their paths; null: none any more
   * @param {number} by how far outside of them, in mm; negative: inside
   * @param {number} scale of the paper, in pixels per mm
   */
  swell(cuts, by, scale) {
    if (!cuts || by === 0) return this.lines.replaceChildren();
    this.lines.replaceChildren(...cuts.map((d, index) => beside(d, by, LINE_PX / scale, `beside-${index}`)));
  }
}

/**
 * The edge of a stroke as wide as twice the distance is the line at that distance: what lies on the other side
 * of the cut line, and all within the stroke, is masked.
 *
 * @param {string} d
 * @param {number} by
 * @param {number} width_mm
 * @param {string} id
 */
function beside(d, by, width_mm, id) {
  const inner = 2 * Math.abs(by);
  const grows = by > 0;
  const all = { x: -5000, y: -5000, width: 10000, height: 10000 };
  const mask = svg("mask", { id, maskUnits: "userSpaceOnUse", ...all });
  mask.append(svg("rect", { ...all, fill: grows ? "white" : "black" }));
  mask.append(svg("path", { d, fill: grows ? "black" : "white", stroke: "none" }));
  mask.append(
    svg("path", { d, fill: "none", stroke: "black", "stroke-width": inner, "stroke-linejoin": "round" }),
  );
  const line = svg("path", { d, class: "beside", "stroke-width": inner + 2 * width_mm });
  const group = svg("g", { mask: `url(#${id})` }, line);
  return svg("g", {}, mask, group);
}
