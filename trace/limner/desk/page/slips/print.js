/** The slip of the printing company: its profile, and the limits that the sheet is held to. */

import { deed, deeds, textField } from "./fields.js";
import { decide, numberOfJob, saidAt, setKey } from "./onsheet.js";

/** @import { SlipKind } from "./slips.js" */

const PT = { unit: "pt", step: 0.25, least: 0.05, most: 72 };
const PERCENT = { unit: "%", step: 5, least: 100, most: 400 };
const MM = { unit: "mm", step: 0.05, least: 0, most: 5 };

/** Limits that hold where the job names none. */
const SMALLEST_TEXT = "5 pt";
const SMALLEST_LINE = "0.25 pt";
const MOST_INK = 330;

/** @type {SlipKind<null>} */
export const printSlip = {
  fill(slip, _about, here) {
    const profile = textField("Profile", (text) => {
      void decide(here, "Profile of the press", setKey(["print", "profile"], text));
    });
    const none = deed(
      "none",
      () => void decide(here, "No profile", setKey(["print", "profile"], null)),
      "No profile",
    );
    const number = (
      /** @type {string} */ label,
      /** @type {string} */ key,
      /** @type {import("./onsheet.js").Range} */ range,
      /** @type {unknown} */ otherwise,
    ) => numberOfJob(here, label, range, ["print", key], { words: label, otherwise: () => otherwise });
    const fields = [
      number("Smallest text", "smallest_text", PT, SMALLEST_TEXT),
      number("Smallest line", "smallest_line", PT, SMALLEST_LINE),
      number("Most ink", "most_ink", PERCENT, MOST_INK),
    ];
    const white = number("White, smaller by", "white", MM, 0.1);
    const noWhite = deed(
      "no white",
      () => void decide(here, "No white ink", setKey(["print", "white"], null)),
    );
    slip.put(
      profile.element,
      ...fields.map(({ element }) => element),
      white.element,
      deeds("", noWhite, none),
    );
    return () => {
      const named = saidAt(here, ["print", "profile"]);
      profile.show(named ?? "");
      for (const field of [...fields, white]) field.show();
      none.disabled = named === undefined;
      noWhite.disabled = saidAt(here, ["print", "white"]) === undefined;
      return "Printing company";
    };
  },
};
