/** What lies on the desk of one sketch, from the paper up. */

import { html, svg } from "../dom.js";

export class Layers extends EventTarget {
  constructor() {
    super();
    this.paper = svg("rect", { class: "paper" });
    this.photograph = svg("image", { class: "photograph", preserveAspectRatio: "none" });
    this.fills = svg("g", { role: "group", "aria-label": "Areas" });
    this.lines = svg("g", { class: "lines" });
    this.shapes = svg("g", { class: "shapes" }, this.fills, this.lines);
    /** Gaps that were bridged, and axes. */
    this.marks = svg("g", { class: "marks" });
    /** What was corrected by hand: zones and touches. */
    this.corrections = svg("g", { class: "corrections", role: "group", "aria-label": "Corrections" });
    /** Outlines of what is pointed at and of what is chosen. */
    this.pencil = svg("g", { class: "pencil" });
    this.nodes = svg("g", { class: "nodes" });
    /** For what a hand draws while it draws. */
    this.trail = svg("g", { class: "trail" });
    const { paper, photograph, shapes, corrections, marks, pencil, nodes, trail } = this;
    this.world = svg("g", {}, paper, photograph, shapes, corrections, marks, pencil, nodes, trail);
    this.notes = html("div", { class: "notes", role: "group", "aria-live": "polite", "aria-label": "Notes" });
  }
}
