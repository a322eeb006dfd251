/** Go round a part: it becomes a zone with its own smoothing and nodes. Zones that are there can be touched. */

import { svg } from "../dom.js";
import { addZone, ringAgain } from "../edits/zones.js";
import { letGo } from "../marks.js";
import { isInside } from "../sketch/around.js";
import { outlineOf } from "../sketch/corrections.js";
import { onPage } from "./pencil.js";
import { fewPoints, pathThrough } from "./spline.js";
import { touchZone } from "./things.js";
import { Way } from "./way.js";

/** @import { Point, Table } from "../contract.js" */
/** @import { Here } from "../here.js" */
/** @import { Contact } from "../surface/pointers.js" */
/** @import { Hand } from "./hands.js" */

/** The border of a zone is not drawn: it need not follow the hand nearer than this. */
const TOLERANCE_PX = 2;

/** Going round less than this is no ring, but a slip of the hand. */
const SMALLEST_PX = 12;

/** The zone that the next ring is for, in place of a new one. @type {number | null} */
let anew = null;

/** @type {Hand} */
export const ringHand = {
  word: "ring",
  draws: true,
  hint: "Go round a part to give it its own smoothing",
  drop: () => (anew = null),
  tap(contact, here) {
    const index = zoneAt(contact, here);
    if (index === null) here.slips.close();
    else touchZone(here, index, contact);
  },
  begin(contact, here) {
    const { sketch } = here;
    if (!sketch?.drawing) return null;
    const way = new Way(sketch, contact);
    const mark = svg("path", { class: "mark ring" });
    sketch.trail.append(mark);
    return {
      move({ x_mm, y_mm }) {
        way.add(x_mm, y_mm);
        mark.setAttribute("d", pathThrough(way.points));
      },
      end(last) {
        mark.remove();
        closed(here, way.points, last);
      },
      cancel: () => mark.remove(),
    };
  },
};

/**
 * The next ring takes the place of a zone's outline.
 *
 * @param {number} index
 */
export function ringInPlaceOf(index) {
  anew = index;
}

/**
 * @param {Here} here
 * @param {Point[]} way
 * @param {Contact} last
 */
function closed(here, way, last) {
  const { sketch } = here;
  if (!sketch) return;
  const few = fewPoints([...way, way[0]], TOLERANCE_PX / sketch.view.scale).slice(0, -1);
  if (few.length < 3 || smallSide(way) * sketch.view.scale < SMALLEST_PX) return here.hint(ringHand.hint);
  const polygon = few.map(([x, y]) => onPage(sketch.toFractions(x, y)));
  /** @type {Table[]} */
  const zones = here.desk.table(sketch.name).zone ?? [];
  const index = anew !== null && zones[anew] ? anew : zones.length;
  anew = null;
  letGo("ring");
  if (index < zones.length) {
    void sketch.decide(`Outline of zone ${index + 1}`, ringAgain(sketch.name, index, zones[index], polygon));
  } else {
    const smoothing = `${Number((sketch.drawing?.smoothing_mm ?? 0.1).toFixed(3))} mm`;
    void sketch.decide(`Zone on ${sketch.name}`, addZone(sketch.name, polygon, smoothing));
  }
  touchZone(here, index, last);
}

/** @param {Point[]} way */
function smallSide(way) {
  const [xs, ys] = [way.map(([x]) => x), way.map(([, y]) => y)];
  return Math.min(Math.max(...xs) - Math.min(...xs), Math.max(...ys) - Math.min(...ys));
}

/**
 * The smallest zone at a contact.
 *
 * @param {Contact} contact
 * @param {Here} here
 * @returns {number | null}
 */
function zoneAt({ x_mm, y_mm }, here) {
  const { sketch } = here;
  if (!sketch) return null;
  const zones = /** @type {Table[]} */ (here.desk.table(sketch.name).zone ?? []);
  let [best, least] = [/** @type {number | null} */ (null), Infinity];
  for (const [index, zone] of zones.entries()) {
    const ring = outlineOf(sketch, zone);
    const size = smallSide(ring);
    if (isInside(ring, [x_mm, y_mm]) && size < least) [best, least] = [index, size];
  }
  return best;
}
