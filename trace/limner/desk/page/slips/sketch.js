/** The slip of a sketch as a whole. */

import { axesOf, byHand, setMirror } from "../edits/mirror.js";
import { ofJob } from "../edits/lengths.js";
import { decideOn, NODES, SMOOTHING, tried } from "./decide.js";
import { choiceField } from "./fields.js";
import { inkOf } from "./lines.js";
import { numberField } from "./number.js";

/** @import { Edit } from "../contract.js" */
/** @import { Here } from "../here.js" */
/** @import { Sketch } from "../sketch/sketch.js" */
/** @import { SlipKind } from "./slips.js" */

const WIDTH = { unit: "mm", step: 0.5, least: 1, most: 1000 };
const PAPERS = /** @type {const} */ (["auto", "none", "A5", "A4", "A3"]);

/** @type {SlipKind<null>} */
export const sketchSlip = {
  fill(slip, _about, here) {
    const sketch = /** @type {Sketch} */ (here.sketch);
    const table = () => here.desk.table(sketch.name);
    const smoothing = number(sketch, "Smoothing", SMOOTHING);
    const nodes = number(sketch, "Nodes", NODES);
    const width = number(sketch, "Width", WIDTH);
    const lines = linesOf(here, sketch);
    const bridges = choice(here, sketch, "Bridges", ["inked", "open"]);
    const ink = inkOf(here, sketch);
    const paper = choice(here, sketch, "Paper", PAPERS);
    const mirror = mirrorOf(here, sketch);
    const fields = [smoothing, nodes, lines, bridges, ink, paper, width, mirror];
    slip.put(...fields.map((field) => field.element));
    return () => {
      if (!here.desk.sticker(sketch.name)) return null;
      const { smoothing_mm, nodes: count, width_mm } = sketch.drawing ?? UNKNOWN;
      const said = table();
      showNumber(smoothing, said.smoothing, smoothing_mm, "mm");
      showNumber(nodes, said.nodes, count, "");
      showNumber(width, said.width, width_mm, "mm");
      for (const field of [lines, bridges, ink, paper, mirror]) field.show();
      return sketch.name;
    };
  },
};

/** While nothing is traced yet. */
const UNKNOWN = { smoothing_mm: 0, nodes: 0, width_mm: 0 };

/**
 * What the job says; where it says nothing, what limner chose.
 *
 * @param {{show: (typed: import("../edits/lengths.js").Typed, own: boolean) => void}} field
 * @param {unknown} said
 * @param {number} found
 * @param {string} unit
 */
function showNumber(field, said, found, unit) {
  const own = ofJob(said, unit);
  field.show(own ?? { value: Number(found.toFixed(3)), unit }, own !== null);
}

/**
 * @param {Sketch} sketch
 * @param {string} key
 * @param {unknown} value null takes it away
 * @returns {Edit[]}
 */
function set(sketch, key, value) {
  const where = ["sticker", sketch.name, key];
  return value === null ? [{ what: "unset", where }] : [{ what: "set", where, to: value }];
}

/**
 * @param {Sketch} sketch
 * @param {string} label
 * @param {{unit: string, step: number, least: number, most: number}} range
 */
function number(sketch, label, range) {
  const key = label.toLowerCase();
  const words = () => `${label} of ${sketch.name}`;
  return numberField(label, { ...range, ...tried(sketch, key, words, (value) => set(sketch, key, value)) });
}

/**
 * One of a few words of the sticker's table; the first is what it is where nothing is said.
 *
 * @template {string} W
 * @param {Here} here
 * @param {Sketch} sketch
 * @param {string} label
 * @param {readonly W[]} words
 */
function choice(here, sketch, label, words) {
  const key = label.toLowerCase();
  const field = choiceField(label, words, (word) => {
    decideOn(sketch, key, `${label} of ${sketch.name}`, set(sketch, key, word));
  });
  return { element: field.element, show: () => field.show(here.desk.table(sketch.name)[key] ?? words[0]) };
}

/**
 * @param {Here} here
 * @param {Sketch} sketch
 */
export const linesOf = (here, sketch) => choice(here, sketch, "Lines", ["drawn", "even", "tapered", "none"]);

/**
 * @param {Here} here
 * @param {Sketch} sketch
 */
function mirrorOf(here, sketch) {
  const axes = () => axesOf(here.desk.table(sketch.name).mirror);
  const field = choiceField("Mirror", ["off", "found", "by hand"], (word) => {
    const decided = word === "off" ? [] : word === "found" ? [{}] : [handAxis(sketch)];
    const words = word === "off" ? "Mirror off" : `Mirror, axis ${word}`;
    decideOn(sketch, "axis", words, setMirror(sketch.name, decided));
  });
  const show = () =>
    field.show(axes().length === 0 ? "off" : axes().some((axis) => axis.at) ? "by hand" : "found");
  return { element: field.element, show };
}

/**
 * The axis that is drawn, or an upright one through the middle of the figure, to be dragged from there.
 *
 * @param {Sketch} sketch
 */
function handAxis(sketch) {
  const { drawing } = sketch;
  const [axis] = drawing?.axes ?? [];
  if (axis) return byHand(sketch.toFractions(axis.x_mm, axis.y_mm), axis.angle_deg);
  return byHand(sketch.toFractions((drawing?.width_mm ?? 0) / 2, (drawing?.height_mm ?? 0) / 2), 90);
}
