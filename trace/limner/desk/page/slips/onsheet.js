/** What slips on the sheet have in common: fields that stand for keys of the job. */

import { ofJob } from "../edits/lengths.js";
import { letGo } from "../marks.js";
import { choiceField } from "./fields.js";
import { numberField } from "./number.js";

/** @import { Edit } from "../contract.js" */
/** @import { Here } from "../here.js" */

/** @typedef {(string | number)[]} Where */
/** @typedef {{unit: string, step: number, least: number, most: number}} Range */

/**
 * @param {Here} here
 * @param {string} words what undo calls it
 * @param {Edit[]} edits
 * @returns {Promise<boolean>}
 */
export function decide(here, words, edits) {
  letGo("sheet");
  return here.desk.decide(words, edits);
}

/**
 * @param {Where} where
 * @param {unknown} value null takes the key away
 * @returns {Edit[]}
 */
export const setKey = (where, value) =>
  value === null ? [{ what: "unset", where }] : [{ what: "set", where, to: value }];

/**
 * What the job says at a place; undefined where it says nothing.
 *
 * @param {Here} here
 * @param {Where} where stickers by their name
 * @returns {any}
 */
export const saidAt = (here, where) =>
  where.reduce(
    (/** @type {any} */ table, key) =>
      Array.isArray(table) && typeof key === "string" ? table.find((one) => one.name === key) : table?.[key],
    here.desk.state.document,
  );

/**
 * A number of the job. What is not said is shown as it is otherwise.
 *
 * @param {Here} here
 * @param {string} label
 * @param {Range} range
 * @param {Where} where
 * @param {object} more
 * @param {string} more.words what undo calls it
 * @param {() => unknown} more.otherwise in the unit of the range, or with its own; null: nothing
 * @param {(value: string | number) => void} [more.attempt] show it while it changes
 * @param {(value: string | number | null) => void} [more.save] in place of setting the key
 */
export function numberOfJob(here, label, range, where, { words, otherwise, attempt, save }) {
  const field = numberField(label, {
    ...range,
    attempt: attempt ?? (() => {}),
    save: save ?? ((value) => void decide(here, words, setKey(where, value))),
  });
  const show = () => {
    const own = ofJob(saidAt(here, where), range.unit);
    const other = ofJob(otherwise(), range.unit) ?? { value: 0, unit: range.unit };
    field.show(own ?? other, own !== null);
  };
  return { element: field.element, show };
}

/**
 * One of a few words of the job.
 *
 * @template {string} W
 * @param {Here} here
 * @param {string} label
 * @param {readonly W[]} words
 * @param {Where} where
 * @param {string} what undo calls it
 * @param {() => W} otherwise
 */
export function choiceOfJob(here, label, words, where, what, otherwise) {
  const field = choiceField(label, words, (word) => void decide(here, what, setKey(where, word)));
  return { element: field.element, show: () => field.show(saidAt(here, where) ?? otherwise()) };
}
