/** The slip of lettering: `about` is its number in the job's list. The text is seen on the sheet while it is typed. */

import { html } from "../dom.js";
import { readNumber } from "../edits/lengths.js";
import { toMm } from "../edits/millimetres.js";
import { turnOf } from "../edits/places.js";
import { colourField } from "./colours.js";
import { choiceField, deed, deeds, row } from "./fields.js";
import { choiceOfJob, decide, numberOfJob, saidAt, setKey } from "./onsheet.js";

/** @import { Table } from "../contract.js" */
/** @import { Here } from "../here.js" */
/** @import { Sheet } from "../sheet/sheet.js" */
/** @import { SlipKind } from "./slips.js" */

const SIZE = { unit: "pt", step: 0.5, least: 1, most: 500 };
const ARC = { unit: "mm", step: 1, least: -1000, most: 1000 };
const TURN = { unit: "°", step: 1, least: -180, most: 180 };

/** @type {SlipKind<number>} */
export const letteringSlip = {
  fill(slip, index, here) {
    const sheet = /** @type {Sheet} */ (here.sheet);
    const where = ["lettering", index];
    /** @returns {Table | undefined} */
    const said = () => here.desk.state.document.lettering?.[index];
    const words = (/** @type {string} */ what) => `${what} of “${said()?.text ?? ""}”`;
    const text = textOf(here, sheet, index);
    const face = faceOf(here, index, words("Face"));
    const size = numberOfJob(here, "Size", SIZE, [...where, "size"], {
      words: words("Size"),
      otherwise: () => 12,
      attempt: (value) => {
        const scale = toMm(value, 1) / toMm(said()?.size, 1);
        sheet.letters.hold(index, { ...sheet.letters.at(index), scale });
      },
    });
    const colour = colourField("Colour", here, {
      found: () => [],
      save: (fill, screen) => {
        if (fill !== null) sheet.letters.paint(index, screen);
        void decide(here, words("Colour"), setKey([...where, "fill"], fill));
      },
    });
    const arc = numberOfJob(here, "Arc", ARC, [...where, "arc"], {
      words: words("Arc"),
      otherwise: () => null,
      // An arc of no radius is none.
      save: (value) => {
        const straight = value === null || toMm(value, 0) === 0;
        void decide(here, words("Arc"), setKey([...where, "arc"], straight ? null : value));
      },
    });
    const turn = numberOfJob(here, "Turn", TURN, [...where, "rotate"], {
      words: words("Turn"),
      otherwise: () => 0,
      attempt: (value) => {
        const degrees = readNumber(String(value))?.value ?? 0;
        sheet.letters.hold(index, { ...sheet.letters.at(index), turn: turnOf(degrees) });
      },
    });
    const align = choiceOfJob(
      here,
      "Stands",
      ["left", "middle", "right"],
      [...where, "align"],
      words("Stand"),
      () => "middle",
    );
    const off = deed("Take it off", () => {
      void decide(here, `“${said()?.text}” taken off`, [{ what: "remove", where }]);
      here.slips.close();
    });
    const fields = [text, face, size, colour, arc, turn, align];
    slip.put(...fields.map(({ element }) => element), deeds("", off));
    return () => {
      const now = said();
      if (!now) return null;
      for (const field of [text, face, size, arc, turn, align]) field.show();
      colour.show(now.fill ?? "black");
      return titleOf(now.text);
    };
  },
};

/** Faces as they are called on the slip, and in the job. */
const FACES = { round: "display", plain: "text" };

/**
 * The faces, each word set in itself.
 *
 * @param {Here} here
 * @param {number} index
 * @param {string} words
 */
function faceOf(here, index, words) {
  const where = ["lettering", index, "face"];
  const names = /** @type {(keyof typeof FACES)[]} */ (Object.keys(FACES));
  const field = choiceField("Face", names, (name) => void decide(here, words, setKey(where, FACES[name])));
  [...field.element.querySelectorAll(".choice span")].forEach((word, i) =>
    word.classList.add(`in-${FACES[names[i]]}`),
  );
  const show = () => {
    const said = saidAt(here, where) ?? "display";
    field.show(names.find((name) => FACES[name] === said) ?? names[0]);
  };
  return { element: field.element, show };
}

/** @param {string} text */
const titleOf = (text) => text.split("\n")[0].slice(0, 40);

/**
 * The text: Enter saves it, Enter with Shift begins a line.
 *
 * @param {Here} here
 * @param {Sheet} sheet
 * @param {number} index
 */
function textOf(here, sheet, index) {
  const area = html("textarea", { rows: 2, spellcheck: "false" });
  const said = () => String(here.desk.state.document.lettering?.[index]?.text ?? "");
  const save = () => {
    const text = area.value.trim();
    if (text === "" || text === said()) return void (area.value = said());
    void decide(here, `Text “${titleOf(text)}”`, setKey(["lettering", index, "text"], text));
  };
  area.addEventListener("input", () => sheet.letters.type(index, area.value));
  area.addEventListener("change", save);
  area.addEventListener("keydown", (event) => {
    if (event.key === "Enter" && !event.shiftKey) {
      event.preventDefault();
      save();
    } else if (event.key === "Escape" && area.value !== said()) {
      event.stopPropagation();
      area.value = said();
      sheet.letters.type(index, null);
    }
  });
  const show = () => {
    if (document.activeElement !== area) area.value = said();
  };
  return { element: row("Text", area), show };
}
