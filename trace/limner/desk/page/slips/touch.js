/** The slip of a touch that was made: `about` is its number in the sticker's list. */

import { html } from "../dom.js";
import { calledAs, changeTouch, kindOf, removeTouch } from "../edits/touches.js";
import { ofJob } from "../edits/lengths.js";
import { decideOn, tried, WIDTH } from "./decide.js";
import { deed, deeds } from "./fields.js";
import { numberField } from "./number.js";

/** @import { Table } from "../contract.js" */
/** @import { Sketch } from "../sketch/sketch.js" */
/** @import { SlipKind } from "./slips.js" */

/** What a touch has a number for, and what that is where it is not said, in line widths; pulls reach by their length. */
const NUMBERS = /** @type {Record<string, {key: string, word: string, usual: number}>} */ ({
  draw: { key: "width", word: "Width", usual: 1 },
  rub: { key: "width", word: "Width", usual: 3 },
  pull: { key: "reach", word: "Reach", usual: 6 },
});

/** @type {SlipKind<number>} */
export const touchSlip = {
  fill(slip, index, here) {
    const sketch = /** @type {Sketch} */ (here.sketch);
    const touches = () => /** @type {Table[]} */ (here.desk.table(sketch.name).touch ?? []);
    const touch = touches()[index] ?? {};
    const number = NUMBERS[kindOf(touch)];
    const width =
      number &&
      numberField(number.word, {
        ...WIDTH,
        ...tried(
          sketch,
          number.key,
          () => `${number.word} of a touch`,
          (value) => changeTouch(sketch.name, index, number.key, value),
        ),
      });
    const became = html("p", { class: "is" });
    slip.put(became);
    if (width) slip.put(width.element);
    const remove = deed("Take it back", () => {
      decideOn(sketch, "touch", `${calledAs(touch)} taken back`, removeTouch(sketch.name, index));
      here.slips.close();
    });
    slip.put(deeds("", remove));
    return () => {
      const now = touches()[index];
      if (!now || kindOf(now) !== kindOf(touch)) return null;
      if (width) {
        const own = ofJob(now[number.key], "mm");
        const usual = number.usual * (sketch.drawing?.line_width_mm ?? 1);
        width.show(own ?? { value: Number(usual.toFixed(2)), unit: "mm" }, own !== null);
      }
      const said = sketch.drawing?.touches.find(
        (one) => one.index === index && one.kind === kindOf(now),
      )?.words;
      became.textContent = said ? `${said[0].toUpperCase()}${said.slice(1)}.` : "";
      return calledAs(now);
    };
  },
};
