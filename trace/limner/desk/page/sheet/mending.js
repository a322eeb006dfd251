/** What is to be mended and can be mended in one touch: the word for it, and the edits of the job. */

import { inMm, toMm } from "../edits/millimetres.js";
import { placeEdits, tableOf } from "../edits/places.js";
import { Holds } from "./holds.js";

/** @import { Edit, Finding, Sheet as SheetValue, Table } from "../contract.js" */
/** @import { Pose } from "./outlines.js" */
/** @import { Sheet } from "./sheet.js" */

/** @typedef {{words: string, edits: () => Edit[]}} Mend */

/** A place that holds is looked for at these distances, in so many directions. */
const STEP_MM = 0.25;
const FARTHEST_MM = 20;
const DIRECTIONS = 32;

/** Findings that go away once the sticker lies elsewhere, and what that is called. @type {Record<string, string>} */
const MOVES = {
  "sticker-off-sheet": "Move it in",
  "sticker-near-trim": "Move it in",
  "cuts-cross": "Move it to where there is room",
  "cut-gap-small": "Move it to where there is room",
  "cut-gap-narrow": "Move it to where there is room",
  "lettering-cut": "Move the sticker away",
  "lettering-near-cut": "Move the sticker away",
};

/** Of lettering: what is set to what. @type {Record<string, {words: string, key: string, to: string}>} */
const SETS = {
  "text-inks-many": { words: "Print it in black alone", key: "fill", to: "black" },
  "text-faint": { words: "Darken it", key: "fill", to: "black" },
};

/** Sizes that a sentence asks for: "set it in 5 pt or more". */
const ASKED = /(\d+(?:\.\d+)?) (pt|mm)(?: or more|, or what the printing)/;

/**
 * @param {Finding} finding
 * @param {Sheet} sheet
 * @param {Table} document
 * @returns {Mend | null} null: only she can mend it
 */
export function mendOf(finding, sheet, document) {
  const { code, sticker } = finding;
  if (code === "bleed-small") {
    return { words: "Let it run over by 3 mm", edits: () => [set(["sheet", "bleed"], "3 mm")] };
  }
  if (code.startsWith("lettering-") && code.match(/-off-sheet|-near-trim/)) {
    return inwards(finding, sheet, document);
  }
  if (code.startsWith("text-")) return mendText(finding, sheet);
  if (sticker === null) return null;
  if (code in MOVES) return moveOf(sticker, MOVES[code], sheet, document);
  return code === "cut-near" ? widen(finding, tableOf(document, sticker)) : null;
}

/**
 * @param {Finding} finding
 * @param {Table | null} table
 * @returns {Mend | null}
 */
function widen({ message }, table) {
  const asked = ASKED.exec(message)?.[1];
  if (!asked || !table) return null;
  const edit = set(["sticker", table.name, "cut", "distance"], `${asked} mm`);
  return { words: `Cut it ${asked} mm from the art`, edits: () => [edit] };
}

/**
 * @param {Finding} finding
 * @param {Sheet} sheet
 * @returns {Mend | null}
 */
function mendText(finding, sheet) {
  const index = letteringOf(finding, sheet);
  const asked = ASKED.exec(finding.message)?.[1];
  if (index === null) return null;
  if (finding.code in SETS) {
    const { words, key, to } = SETS[finding.code];
    return { words, edits: () => [set(["lettering", index, key], to)] };
  }
  if (!asked) return null;
  return { words: `Set it in ${asked} pt`, edits: () => [set(["lettering", index, "size"], `${asked} pt`)] };
}

/**
 * @param {(string | number)[]} where
 * @param {unknown} to
 * @returns {Edit}
 */
const set = (where, to) => ({ what: "set", where, to });

/**
 * The lettering that a finding is about: the one that stands there.
 *
 * @param {Finding} finding
 * @param {Sheet} sheet
 * @returns {number | null}
 */
function letteringOf({ where_mm, message }, sheet) {
  const all = sheet.sheet?.lettering ?? [];
  const there = all.find(
    ({ x_mm, y_mm }) => where_mm && Math.hypot(x_mm - where_mm[0], y_mm - where_mm[1]) < 0.01,
  );
  return (there ?? all.find(({ text }) => message.includes(`"${text.split("\n")[0]}"`)))?.index ?? null;
}

/**
 * @param {string} name
 * @param {string} words
 * @param {Sheet} sheet
 * @param {Table} document
 * @returns {Mend | null}
 */
function moveOf(name, words, sheet, document) {
  if (!sheet.sheet || !tableOf(document, name)) return null;
  const place = placeThatHolds(sheet.sheet, document, (one) => sheet.poseOf(one), name);
  if (!place) return null;
  return { words, edits: () => placeEdits(document, sheet.seen(), new Map([[name, place]])) };
}

/**
 * The nearest place where a sticker would hold; null where none is near.
 *
 * @param {SheetValue} sheet
 * @param {Table} document
 * @param {(name: string) => Pose} poseOf
 * @param {string} name
 * @returns {Pose | null}
 */
export function placeThatHolds(sheet, document, poseOf, name) {
  const holds = new Holds(sheet, document, poseOf, new Set([name]));
  const from = poseOf(name);
  for (let far = 0; far <= FARTHEST_MM; far += STEP_MM) {
    for (let i = 0; i < (far === 0 ? 1 : DIRECTIONS); i += 1) {
      const angle = (2 * Math.PI * i) / DIRECTIONS;
      const pose = { ...from, x: from.x + far * Math.cos(angle), y: from.y + far * Math.sin(angle) };
      if (far > 0 && holds.at(() => pose).length === 0) return pose;
    }
  }
  return null;
}

/**
 * @param {Finding} finding
 * @param {Sheet} sheet
 * @param {Table} document
 * @returns {Mend | null}
 */
function inwards(finding, sheet, document) {
  const page = sheet.sheet?.page;
  const shown = (sheet.sheet?.lettering ?? []).find(({ text }) =>
    finding.message.includes(text.split("\n")[0].slice(0, 20)),
  );
  if (!page || !shown) return null;
  const [x, y, width, height] = shown.box;
  const safe = Math.max(page.safe_mm, toMm(document.sheet?.safe, page.safe_mm)) + 0.05;
  const right = page.width_mm - safe - width;
  const bottom = page.height_mm - safe - height;
  if (right < safe || bottom < safe) return null;
  const dx = Math.min(right, Math.max(safe, x)) - x;
  const dy = Math.min(bottom, Math.max(safe, y)) - y;
  const to = [inMm(shown.x_mm + dx), inMm(shown.y_mm + dy)];
  return { words: "Move it in", edits: () => [set(["lettering", shown.index, "at"], to)] };
}
