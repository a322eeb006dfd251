/** The slip of an area, or of several that are taken together: `here.sketch.chosen`. */

import { changeAreas, joinAreas, laid, layAreas, ruleOf } from "../edits/areas.js";
import { ofJob } from "../edits/lengths.js";
import { letGo } from "../marks.js";
import { areaOf } from "../sketch/shapes.js";
import { colourField, sketchColours } from "./colours.js";
import { deed, deeds, textField } from "./fields.js";
import { numberField } from "./number.js";

/** @import { Edit, Shape } from "../contract.js" */
/** @import { Here } from "../here.js" */
/** @import { Sketch } from "../sketch/sketch.js" */
/** @import { SlipKind } from "./slips.js" */

/** Smoothing as fine as the press can show, and as coarse as leaves a shape. */
const SMOOTHING = { unit: "mm", step: 0.01, least: 0.01, most: 5 };
const NODES = { unit: "", step: 1, least: 2, most: 999 };

/** @type {SlipKind<null>} */
export const areaSlip = {
  fill(slip, _about, here) {
    const sketch = /** @type {Sketch} */ (here.sketch);
    const taken = new Taken(here, sketch);
    const name = textField("Name", (text) => taken.name(text));
    const colour = colourField("Colour", here, {
      found: () => sketchColours(sketch),
      save: (fill, screen) => taken.colour(fill, screen),
    });
    const smoothing = numberField("Smoothing", { ...SMOOTHING, ...taken.number("smoothing", "Smoothing") });
    const nodes = numberField("Nodes", { ...NODES, ...taken.number("nodes", "Nodes") });
    const above = deed("above …", () => taken.pick("above"), "Lies above…");
    const below = deed("below …", () => taken.pick("below"), "Lies below…");
    const join = deed("Join with …", () => taken.pick("join"), "Join with…");
    const another = deed("Take another …", () => taken.pick("another"), "Take another…");
    const empty = deed("Leave empty", () => taken.leaveEmpty());
    slip.put(name.element, colour.element, smoothing.element, nodes.element);
    slip.put(deeds("Lies", above, below), deeds("", join, another), deeds("", empty));
    return () => {
      const shapes = taken.shapes();
      if (shapes.length === 0) return null;
      const [first] = shapes;
      const rule = ruleOf(sketch.areas(), first);
      name.element.hidden = shapes.length > 1;
      name.show(rule.name ?? first.name);
      colour.show(sketch.colourOf(first));
      const smooth = ofJob(rule.smoothing, "mm");
      smoothing.show(smooth ?? { value: sketch.drawing?.smoothing_mm ?? 0, unit: "mm" }, smooth !== null);
      const count = shapes.reduce((sum, shape) => sum + shape.nodes.length, 0);
      const budget = shapes.length === 1 ? ofJob(rule.nodes, "") : null;
      nodes.show(budget ?? { value: count, unit: "" }, budget !== null);
      return said(shapes);
    };
  },
  gone(_about, here) {
    here.pick(null);
    here.sketch?.choose([]);
  },
};

/** What the desk says while the next area that is touched is waited for. */
const PICKED = {
  join: "Touch what it joins",
  above: "Touch what it lies above",
  below: "Touch what it lies below",
  another: "Touch another one",
};

/** @param {Shape[]} shapes */
const said = (shapes) => (shapes.length === 1 ? shapes[0].name : `${shapes.length} areas`);

/** The areas that are taken, and what can be decided about them. */
class Taken {
  /**
   * @param {Here} here
   * @param {Sketch} sketch
   */
  constructor(here, sketch) {
    this.here = here;
    this.sketch = sketch;
  }

  /** @returns {Shape[]} */
  shapes() {
    return [...this.sketch.chosen]
      .map((name) => areaOf(this.sketch.drawing, name))
      .filter((shape) => shape !== undefined);
  }

  /**
   * @param {string} what
   * @param {Edit[]} edits
   */
  decide(what, edits) {
    void this.sketch.decide(`${what} of ${said(this.shapes())}`, edits);
  }

  /** @param {string} text */
  name(text) {
    const shapes = this.shapes();
    letGo("name");
    const edits = changeAreas(this.sketch.areas(), shapes, { name: text });
    this.decide("Name", edits);
    if (shapes.length !== 1 || areaOf(this.sketch.drawing, text)) return;
    this.sketch.change("name", (shape) => (shape.name === shapes[0].name ? { ...shape, name: text } : shape));
  }

  /**
   * @param {string | null} fill
   * @param {string} screen
   */
  colour(fill, screen) {
    letGo("colour");
    this.decide("Colour", changeAreas(this.sketch.areas(), this.shapes(), { fill }));
    showColour(this.sketch, this.shapes(), screen);
  }

  /**
   * @param {"smoothing" | "nodes"} key
   * @param {string} what
   */
  number(key, what) {
    const edits = (/** @type {string | number | null} */ value) =>
      changeAreas(this.sketch.areas(), this.shapes(), { [key]: value });
    return {
      attempt: (/** @type {string | number} */ value) => this.sketch.attempt(edits(value)),
      save: (/** @type {string | number | null} */ value) => {
        letGo(key);
        this.sketch.stopAttempt();
        this.decide(what, edits(value));
      },
    };
  }

  leaveEmpty() {
    const shapes = this.shapes();
    letGo("leave empty");
    this.decide("Empty", changeAreas(this.sketch.areas(), shapes, { skip: true }));
    this.sketch.change("leave empty", (shape) =>
      shapes.includes(shape) ? { ...shape, fill: "none" } : shape,
    );
    this.here.slips.close();
  }

  /**
   * The next area that is touched is the other one.
   *
   * @param {"join" | "above" | "below" | "another"} what
   */
  pick(what) {
    const names = new Set(this.shapes().map((shape) => shape.name));
    this.here.pick({ words: PICKED[what], take: (other) => this.picked(what, names, other) });
  }

  /**
   * @param {"join" | "above" | "below" | "another"} what
   * @param {ReadonlySet<string>} names
   * @param {Shape} other
   */
  picked(what, names, other) {
    const shapes = this.shapes();
    if (names.has(other.name)) return;
    if (what === "another") {
      this.sketch.choose([...names, other.name]);
      return this.here.slips.refresh();
    }
    letGo(what === "join" ? "join" : "order");
    if (what === "join") {
      this.decide("Joining", joinAreas(this.sketch.areas(), shapes[0], [...shapes.slice(1), other]));
      const { fill } = shapes[0];
      this.sketch.change("none", (shape) => (shape.name === other.name ? { ...shape, fill } : shape));
      return;
    }
    this.decide("Place", layAreas(this.sketch.areas(), shapes, other, what));
    if (this.sketch.drawing) {
      this.sketch.show({
        ...this.sketch.drawing,
        fills: laid(this.sketch.drawing.fills, names, other.name, what),
      });
    }
  }
}

/**
 * Show areas in another colour at once, and all that a table of theirs speaks of.
 *
 * @param {Sketch} sketch
 * @param {Shape[]} shapes
 * @param {string} screen "#rrggbb"; anything else waits for the server
 */
export function showColour(sketch, shapes, screen) {
  if (!/^#[0-9a-f]{6}$/i.test(screen)) return;
  const rules = new Set(shapes.map((shape) => shape.rule).filter((rule) => rule !== null));
  const names = new Set(shapes.map((shape) => shape.name));
  sketch.change("colour", (shape) => {
    const meant = names.has(shape.name) || (shape.rule !== null && rules.has(shape.rule));
    return meant && shape.role === "area" ? { ...shape, fill: screen } : shape;
  });
}
