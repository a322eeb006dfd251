/** The slip of a zone: `about` is its number in the sticker's list. */

import { changeZone, removeZone } from "../edits/zones.js";
import { ofJob } from "../edits/lengths.js";
import { ringInPlaceOf } from "../hands/ring.js";
import { isInside } from "../sketch/around.js";
import { outlineOf, zoneName } from "../sketch/corrections.js";
import { decideOn, NODES, SMOOTHING, tried } from "./decide.js";
import { deed, deeds, textField } from "./fields.js";
import { numberField } from "./number.js";

/** @import { Table } from "../contract.js" */
/** @import { Sketch } from "../sketch/sketch.js" */
/** @import { SlipKind } from "./slips.js" */

/** @type {SlipKind<number>} */
export const zoneSlip = {
  fill(slip, index, here) {
    const sketch = /** @type {Sketch} */ (here.sketch);
    const zone = () => /** @type {Table | undefined} */ ((here.desk.table(sketch.name).zone ?? [])[index]);
    const number = (/** @type {"smoothing" | "nodes"} */ key, /** @type {string} */ word) =>
      tried(
        sketch,
        key,
        () => `${word} of zone ${index + 1}`,
        (value) => changeZone(sketch.name, index, zone() ?? {}, kept(zone(), key, value, sketch)),
      );
    const name = textField("Name", (text) =>
      decideOn(
        sketch,
        "name",
        `Name of ${zoneName(zone() ?? {}, index)}`,
        changeZone(sketch.name, index, zone() ?? {}, { name: text }),
      ),
    );
    const smoothing = numberField("Smoothing", { ...SMOOTHING, ...number("smoothing", "Smoothing") });
    const nodes = numberField("Nodes", { ...NODES, ...number("nodes", "Nodes") });
    const again = deed("Go round it anew", () => {
      here.slips.close();
      here.take("ring");
      ringInPlaceOf(index);
      here.hint("Go round the part once more");
    });
    const remove = deed("Take it away", () => {
      decideOn(sketch, "zone", `Zone ${index + 1} taken away`, removeZone(sketch.name, index));
      here.slips.close();
    });
    slip.put(name.element, smoothing.element, nodes.element, deeds("", again, remove));
    return () => {
      const given = zone();
      if (!given) return null;
      const smooth = ofJob(given.smoothing, "mm");
      smoothing.show(smooth ?? { value: sketch.drawing?.smoothing_mm ?? 0, unit: "mm" }, smooth !== null);
      nodes.show(
        ofJob(given.nodes, "") ?? { value: nodesIn(sketch, given), unit: "" },
        given.nodes !== undefined,
      );
      name.show(zoneName(given, index));
      return zoneName(given, index);
    };
  },
};

/**
 * A zone asks for one thing at least: where the last one is taken away, it asks for the sketch's smoothing.
 *
 * @param {Table | undefined} zone
 * @param {"smoothing" | "nodes"} key
 * @param {string | number | null} value
 * @param {Sketch} sketch
 * @returns {Table}
 */
function kept(zone, key, value, sketch) {
  const other = key === "smoothing" ? "nodes" : "smoothing";
  if (value !== null || zone?.[other] !== undefined) return { [key]: value };
  return { [key]: null, smoothing: `${Number((sketch.drawing?.smoothing_mm ?? 0.1).toFixed(3))} mm` };
}

/**
 * How many nodes the lines and areas have in a zone.
 *
 * @param {Sketch} sketch
 * @param {Table} zone
 */
function nodesIn(sketch, zone) {
  const ring = outlineOf(sketch, zone);
  const { fills = [], lines = [] } = sketch.drawing ?? {};
  const shapes = [...fills.filter(({ role }) => role === "area"), ...lines];
  return shapes.reduce((sum, { nodes }) => sum + nodes.filter(([x, y]) => isInside(ring, [x, y])).length, 0);
}
