/** The slip of a cut line: `about` is the sticker's name, or null for what all cut lines have. */

import { ofCut, toMm } from "../edits/millimetres.js";
import { tableOf } from "../edits/places.js";
import { Cutting } from "../sheet/cutting.js";
import { letGo } from "../marks.js";
import { formsField, toggled } from "./forms.js";
import { choiceField, deed, deeds } from "./fields.js";
import { decide, numberOfJob, setKey } from "./onsheet.js";

/** @import { Here } from "../here.js" */
/** @import { Sheet } from "../sheet/sheet.js" */
/** @import { SlipKind } from "./slips.js" */

const MM = { unit: "mm", step: 0.1, least: 0, most: 50 };

/** Numbers of a cut line, and what they are where the job says nothing. */
const NUMBERS = [
  { label: "Distance", key: "distance", otherwise: 2.5 },
  { label: "Corner", key: "corner", otherwise: null },
  { label: "Smallest radius", key: "smallest_radius", otherwise: 1 },
  { label: "Neck", key: "neck", otherwise: 3 },
];

/** @type {SlipKind<string | null>} */
export const cutSlip = {
  fill(slip, about, here) {
    const table = () => (about === null ? {} : (tableOf(here.desk.state.document, about) ?? {}));
    const name = table().name ?? null;
    const where = name === null ? ["cut"] : ["sticker", name, "cut"];
    const said = (/** @type {string} */ key) => ofCut(here.desk.state.document, table(), key);
    const words = (/** @type {string} */ what) =>
      `${what} of ${name === null ? "all cut lines" : `the cut of ${name}`}`;
    const cutting = about === null ? null : new Cutting(here, sheetOf(here), about, name);
    const change = (/** @type {string} */ what, /** @type {string} */ key, /** @type {unknown} */ value) => {
      letGo("cut");
      const edits = setKey([...where, key], value);
      // Asked beside the decision, not after it: the sheet as a whole takes longer.
      void cutting?.attempt(edits);
      void decide(here, words(what), edits);
    };
    const forms = formsField((word) => change("Form", "form", toggled(said("form"), word)));
    const numbers = NUMBERS.map(({ label, key, otherwise }) =>
      numberOfJob(here, label, MM, [...where, key], {
        words: words(label),
        otherwise: () => said(key) ?? otherwise,
        attempt: (value) => {
          if (key === "distance") swell(here, about, toMm(value, 0) - toMm(said(key), 2.5));
          void cutting?.attempt(setKey([...where, key], value));
        },
        save: (value) => change(label, key, value),
      }),
    );
    const depth = choiceField("Depth", /** @type {string[]} */ (["through", "partial"]), (word) =>
      change("Depth", "depth", word),
    );
    const likeAll = deed("As all the others", () => void decide(here, words("Cut"), setKey(where, null)));
    const all = deed("All cut lines …", () => here.slips.open("cut", null, slip.anchor));
    slip.put(forms.element, ...numbers.map(({ element }) => element), depth.element);
    const gap = gapOf(here);
    slip.put(...(name === null ? [gap.element] : [deeds("", likeAll, all)]));
    return () => {
      if (about !== null && table().name === undefined) return null;
      forms.show(said("form"));
      for (const field of [...numbers, gap]) field.show();
      // Only a rectangle has corners to be rounded.
      numbers[1].element.hidden = !JSON.stringify(said("form") ?? "").includes("rectangle");
      depth.show(String(said("depth") ?? "through"));
      likeAll.disabled = !table().cut;
      return about === null ? "All cut lines" : `Cut line of ${about}`;
    };
  },
  gone(_about, here) {
    here.sheet?.soft.swell(null, 0, 1);
  },
};

/** @param {Here} here */
const sheetOf = (here) => /** @type {Sheet} */ (here.sheet);

/** @param {Here} here */
const gapOf = (here) =>
  numberOfJob(here, "Gap", MM, ["cut", "gap"], { words: "Gap of cut lines", otherwise: () => 2 });

/**
 * Show how a cut line would lie at another distance: a line beside the one that is there, exact but where the
 * smallest radius rounds it.
 *
 * @param {Here} here
 * @param {string | null} about
 * @param {number} by mm
 */
function swell(here, about, by) {
  const sheet = sheetOf(here);
  const names = about === null ? (sheet.sheet?.stickers ?? []).map(({ name }) => name) : [about];
  sheet.soft.swell(
    names.flatMap((name) => {
      const sticker = sheet.shown(name);
      return sticker?.d_cut ? [sticker.d_cut] : [];
    }),
    by,
    sheet.view.scale,
  );
}
