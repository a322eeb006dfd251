/** The slip of an axis: `about` is its number in the drawing, and in the job's list. */

import { html } from "../dom.js";
import { axesOf, byHand, changeAxis, removeAxis, sidesOf } from "../edits/mirror.js";
import { jobNumber, readNumber } from "../edits/lengths.js";
import { decideOn, tried } from "./decide.js";
import { choiceField, deed } from "./fields.js";
import { numberField } from "./number.js";

/** @import { Axis, Table } from "../contract.js" */
/** @import { Here } from "../here.js" */
/** @import { Sketch } from "../sketch/sketch.js" */
/** @import { SlipKind } from "./slips.js" */

const ANGLE = { unit: "°", step: 0.5, least: 0, most: 180 };

/** @type {SlipKind<number>} */
export const axisSlip = {
  fill(slip, index, here) {
    const sketch = /** @type {Sketch} */ (here.sketch);
    const mirror = () => here.desk.table(sketch.name).mirror;
    const written = () => axesOf(mirror())[index];
    const drawn = () => sketch.drawing?.axes[index];
    const change = (/** @type {string} */ words, /** @type {Table} */ keys) =>
      decideOn(sketch, "axis", words, changeAxis(sketch.name, mirror(), index, keys));
    const how = choiceField("Axis", ["found", "by hand", "off"], (word) => {
      if (word === "off") decideOn(sketch, "axis", "Mirror off", removeAxis(sketch.name, mirror(), index));
      else if (word === "found") change("Axis as found", { at: null, angle: null });
      else change("Axis by hand", handOf(sketch, drawn()));
    });
    const angle = numberField("Angle", {
      ...ANGLE,
      ...tried(
        sketch,
        "axis",
        () => "Angle of the axis",
        (value) => changeAxis(sketch.name, mirror(), index, turned(sketch, drawn(), value)),
      ),
    });
    const sides = sidesOf(drawn()?.angle_deg ?? 90);
    const keep = choiceField("Keep", [...sides], (side) => change(`The ${side} half kept`, { keep: side }));
    const one = oneSided(here, () => written()?.one_sided ?? [], change);
    slip.put(how.element, angle.element, keep.element, one.element);
    slip.put(html("p", { class: "is" }, "Drag the line to move it, or one of its ends to turn it."));
    return () => {
      const axis = drawn();
      const said = written();
      if (!axis || !said) return null;
      how.show(said.at ? "by hand" : "found");
      const own = typeof said.angle === "number";
      angle.show({ value: own ? said.angle : Number(axis.angle_deg.toFixed(2)), unit: "°" }, own);
      keep.show(said.keep ?? axis.keep);
      one.show();
      return (sketch.drawing?.axes.length ?? 0) > 1 ? `Axis ${index + 1}` : "Axis";
    };
  },
  gone(_index, here) {
    here.pick(null);
  },
};

/**
 * The axis as it is drawn, as one that is set by hand.
 *
 * @param {Sketch} sketch
 * @param {Axis | undefined} axis
 * @returns {Table}
 */
const handOf = (sketch, axis) =>
  axis ? byHand(sketch.toFractions(axis.x_mm, axis.y_mm), axis.angle_deg) : {};

/**
 * @param {Sketch} sketch
 * @param {Axis | undefined} axis
 * @param {string | number | null} value
 * @returns {Table}
 */
function turned(sketch, axis, value) {
  if (value === null) return { at: null, angle: null };
  const typed = readNumber(String(value));
  return { ...handOf(sketch, axis), angle: typed ? jobNumber(typed, "°") : 90 };
}

/**
 * The areas that stay one-sided: their names, each of which can be taken off, and one more to be touched.
 *
 * @param {Here} here
 * @param {() => string[]} names
 * @param {(words: string, keys: Table) => void} change
 */
function oneSided(here, names, change) {
  const list = html("span", { class: "words" });
  const add = deed(
    "add …",
    () =>
      here.pick({
        words: "Touch the area that stays as it is drawn.",
        take: ({ name }) => {
          if (!names().includes(name)) change(`${name} one-sided`, { one_sided: [...names(), name] });
        },
      }),
    "Add an area that stays one-sided",
  );
  const remove = (/** @type {string} */ name) => {
    const left = names().filter((one) => one !== name);
    change(`${name} mirrored`, { one_sided: left.length > 0 ? left : null });
  };
  const element = html("div", { class: "row deeds" }, html("span", {}, "One-sided"), list);
  const show = () =>
    list.replaceChildren(...names().map((name) => deed(name, () => remove(name), `Mirror ${name}`)), add);
  return { element, show };
}
