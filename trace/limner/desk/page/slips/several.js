/** The slip of several stickers that are taken together: `here.sheet.taken`. */

import { linedUp, spaced } from "../edits/together.js";
import { canBePlaced, freeEdits, placeEdits, tableOf } from "../edits/places.js";
import { extentsOf } from "../sheet/extents.js";
import { Moving, namesOf } from "../sheet/moving.js";
import { deed, deeds } from "./fields.js";
import { decide } from "./onsheet.js";

/** @import { Line, Moves } from "../edits/together.js" */
/** @import { Here } from "../here.js" */
/** @import { Sheet } from "../sheet/sheet.js" */
/** @import { SlipKind } from "./slips.js" */

/** @type {SlipKind<null>} */
export const severalSlip = {
  fill(slip, _about, here) {
    const sheet = /** @type {Sheet} */ (here.sheet);
    const names = () =>
      [...sheet.taken].filter((name) => canBePlaced(tableOf(here.desk.state.document, name)));
    const line = (/** @type {Line} */ word) =>
      deed(
        word,
        () => move(here, sheet, linedUp(extentsOf(sheet, names()), word), "Lining up"),
        `Line up: ${word}`,
      );
    const space = (/** @type {"across" | "down"} */ way) =>
      deed(
        way,
        () => move(here, sheet, spaced(extentsOf(sheet, names()), way), "Spacing"),
        `Space evenly: ${way}`,
      );
    const free = deed(
      "limner's",
      () => {
        void decide(here, `Place of ${namesOf(names())}`, freeEdits(here.desk.state.document, names()));
      },
      "Place: limner's",
    );
    const yours = deed(
      "yours",
      () => {
        const moved = new Map(names().map((name) => [name, sheet.poseOf(name)]));
        const seen = sheet.seen().filter(({ name }) => moved.has(name));
        void decide(here, `Place of ${namesOf(names())}`, placeEdits(here.desk.state.document, seen, moved));
      },
      "Place: yours",
    );
    const off = deed("Take them off", () => {
      const edits = names().map((name) => ({
        what: /** @type {const} */ ("remove"),
        where: ["sticker", name],
      }));
      void decide(here, `${namesOf(names())} taken off`, edits);
    });
    slip.put(deeds("In a column", line("left"), line("middle"), line("right")));
    slip.put(deeds("In a row", line("top"), line("centre"), line("bottom")));
    slip.put(deeds("Evenly", space("across"), space("down")), deeds("Place", free, yours), deeds("", off));
    return () => (sheet.taken.size > 1 ? `${sheet.taken.size} stickers` : null);
  },
};

/**
 * @param {Here} here
 * @param {Sheet} sheet
 * @param {Moves} moves
 * @param {string} what
 */
function move(here, sheet, moves, what) {
  const moving = new Moving(here, sheet, [...moves.keys()]);
  moving.to((pose, name) => {
    const [dx, dy] = moves.get(name) ?? [0, 0];
    return { ...pose, x: pose.x + dx, y: pose.y + dy };
  });
  moving.end(what);
}
