/** The slip of a sticker on the sheet: `about` is its name there. */

import { canBePlaced, freeEdits, placeEdits, tableOf, turnOf } from "../edits/places.js";
import { ofCut, toMm } from "../edits/millimetres.js";
import { readNumber } from "../edits/lengths.js";
import { Moving } from "../sheet/moving.js";
import { groundField } from "./ground.js";
import { choiceField, deed, deeds } from "./fields.js";
import { numberField } from "./number.js";
import { decide, numberOfJob, setKey } from "./onsheet.js";
import { saidOfForms } from "./forms.js";

/** @import { Here } from "../here.js" */
/** @import { Sheet } from "../sheet/sheet.js" */
/** @import { SlipKind } from "./slips.js" */

const WIDTH = { unit: "mm", step: 0.5, least: 1, most: 1000 };
const TURN = { unit: "°", step: 1, least: -180, most: 180 };
const COPIES = { unit: "", step: 1, least: 1, most: 200 };

/** @type {SlipKind<string>} */
export const stickerSlip = {
  fill(slip, about, here) {
    const sheet = /** @type {Sheet} */ (here.sheet);
    const table = () => tableOf(here.desk.state.document, about);
    const name = table()?.name ?? about;
    const where = ["sticker", name];
    const width = widthOf(here, sheet, about, name);
    const turn = turnField(here, sheet, about);
    const place = placeOf(here, sheet, about);
    const cut = deed("", () => here.slips.open("cut", name, slip.anchor), `Cut line of ${name}`);
    const ground = groundField(here, name);
    const copies = numberOfJob(here, "Copies", COPIES, [...where, "copies"], {
      words: `Copies of ${name}`,
      otherwise: () => 1,
      save: (value) => void decide(here, `Copies of ${name}`, copyEdits(here, name, value)),
    });
    const sketch = deed("See its sketch", () => here.go(name));
    const off = deed("Take it off", () => {
      void decide(here, `${name} taken off`, [{ what: "remove", where }]);
    });
    const cutRow = deeds("Cut", cut);
    slip.put(width.element, turn.element, place.element, cutRow, ground.element, copies.element);
    slip.put(deeds("", sketch, off));
    return () => {
      const said = table();
      if (!said || !sheet.shown(about)) return null;
      for (const field of [width, turn, place, ground, copies]) field.show();
      const { document } = here.desk.state;
      const distance = toMm(ofCut(document, said, "distance"), 2.5);
      cut.textContent = `${saidOfForms(ofCut(document, said, "form"))}, ${distance} mm`;
      return about;
    };
  },
};

/**
 * @param {Here} here
 * @param {Sheet} sheet
 * @param {string} about
 * @param {string} name
 */
function widthOf(here, sheet, about, name) {
  const where = ["sticker", name, "width"];
  /** @type {Moving | null} */
  let sizing = null;
  return numberOfJob(here, "Width", WIDTH, where, {
    words: `Width of ${name}`,
    otherwise: () => Number((sheet.shown(about)?.width_mm ?? 0).toFixed(2)),
    attempt: (value) => {
      const width = sheet.shown(about)?.width_mm ?? 1;
      sizing ??= new Moving(here, sheet, [about]);
      sizing.to((pose) => ({ ...pose, scale: toMm(value, width) / width }));
    },
    save: (value) => {
      const sized = sizing ?? new Moving(here, sheet, [about]);
      sizing = null;
      const width = sheet.shown(about)?.width_mm ?? 1;
      if (value !== null) sized.to((pose) => ({ ...pose, scale: toMm(value, width) / width }));
      sized.draw();
      sized.keep(`Width of ${name}`, setKey(where, value));
    },
  });
}

/**
 * @param {Here} here
 * @param {Sheet} sheet
 * @param {string} about
 */
function turnField(here, sheet, about) {
  /** @type {Moving | null} */
  let turning = null;
  const to = (/** @type {string | number} */ value) => {
    turning ??= new Moving(here, sheet, [about]);
    const turn = readNumber(String(value))?.value ?? 0;
    turning.to((pose) => ({ ...pose, turn }));
  };
  const field = numberField("Turn", {
    ...TURN,
    attempt: to,
    save: (value) => {
      to(value ?? 0);
      turning?.end("Turn");
      turning = null;
    },
  });
  const show = () => {
    const table = tableOf(here.desk.state.document, about);
    field.element.hidden = !canBePlaced(table);
    field.show({ value: turnOf(sheet.poseOf(about).turn), unit: "°" }, table?.rotate !== undefined);
  };
  return { element: field.element, show };
}

/**
 * Whose its place is.
 *
 * @param {Here} here
 * @param {Sheet} sheet
 * @param {string} about
 */
function placeOf(here, sheet, about) {
  const field = choiceField("Place", ["limner's", "yours"], (word) => {
    const { document } = here.desk.state;
    const seen = sheet.seen().filter(({ name }) => name === about);
    const moved = new Map([[about, sheet.poseOf(about)]]);
    const edits = word === "yours" ? placeEdits(document, seen, moved) : freeEdits(document, [about]);
    void decide(here, `Place of ${about}`, edits);
  });
  const show = () => {
    const table = tableOf(here.desk.state.document, about);
    field.element.hidden = !canBePlaced(table);
    field.show(table?.at ? "yours" : "limner's");
  };
  return { element: field.element, show };
}

/**
 * Several copies lie where limner puts them.
 *
 * @param {Here} here
 * @param {string} name
 * @param {string | number | null} value
 */
function copyEdits(here, name, value) {
  const count = Math.max(1, Math.round(Number(value ?? 1)));
  const free = count > 1 ? freeEdits(here.desk.state.document, [name]) : [];
  return [...free, ...setKey(["sticker", name, "copies"], count === 1 ? null : count)];
}
