/** The slip of the sheet as a whole, and from it the ways to all cut lines, the printing company and the colours. */

import { html } from "../dom.js";
import { optionalColour } from "./ground.js";
import { choiceField, deed, deeds, textField } from "./fields.js";
import { choiceOfJob, decide, numberOfJob, saidAt, setKey } from "./onsheet.js";

/** @import { Here } from "../here.js" */
/** @import { SlipKind } from "./slips.js" */

const MM = { unit: "mm", step: 0.5, least: 0, most: 50 };
const TURN = { unit: "°", step: 5, least: 0, most: 180 };

/**
 * What was found of the sheet as a whole, at no place of its own.
 *
 * @param {Here} here
 */
const unplaced = (here) =>
  (here.sheet?.sheet?.findings ?? []).filter(({ where_mm }) => !where_mm).map(({ message }) => message);

/** @type {SlipKind<null>} */
export const pageSlip = {
  fill(slip, _about, here) {
    const size = textField("Size", (text) => {
      void decide(here, "Size of the sheet", setKey(["sheet", "size"], text));
    });
    const upright = () => {
      const { width_mm = 0, height_mm = 0 } = here.sheet?.sheet?.page ?? {};
      return width_mm > height_mm ? "landscape" : "portrait";
    };
    const orientation = choiceField("Orientation", ["portrait", "landscape"], (word) => {
      void decide(here, "Orientation of the sheet", setKey(["sheet", "orientation"], word));
    });
    const bleed = numberOfJob(here, "Bleed", MM, ["sheet", "bleed"], { words: "Bleed", otherwise: () => 3 });
    const safe = numberOfJob(here, "Safe margin", MM, ["sheet", "safe"], {
      words: "Safe margin",
      otherwise: () => 4,
    });
    const background = optionalColour(here, "Background", ["sheet", "background"], "Background", "paper");
    const turn = numberOfJob(here, "Turned up to", TURN, ["sheet", "turn"], {
      words: "Turn of free stickers",
      otherwise: () => 0,
    });
    const alike = choiceOfJob(
      here,
      "Alike lie",
      ["apart", "together"],
      ["sheet", "alike"],
      "How alike stickers lie",
      () => "apart",
    );
    const go = (/** @type {string} */ words, /** @type {string} */ kind) =>
      deed(words, () => here.slips.open(kind, null, slip.anchor));
    slip.put(size.element, orientation.element, background.element, bleed.element, safe.element);
    slip.put(
      turn.element,
      alike.element,
      deeds("", go("All cut lines …", "cut"), go("Colours …", "palette")),
    );
    const amiss = html("div", {});
    slip.put(deeds("", go("The printing company …", "print")), amiss);
    return () => {
      size.show(String(saidAt(here, ["sheet", "size"]) ?? "A6"));
      orientation.show(saidAt(here, ["sheet", "orientation"]) ?? upright());
      for (const field of [bleed, safe, background, turn, alike]) field.show();
      amiss.replaceChildren(...unplaced(here).map((message) => html("p", { class: "is" }, message)));
      return "Sheet";
    };
  },
};
