/** What slips have in common: a number that is tried while it changes, and decided when it is let go. */

import { letGo } from "../marks.js";

/** @import { Edit } from "../contract.js" */
/** @import { Sketch } from "../sketch/sketch.js" */

/** Numbers of several slips. */
export const SMOOTHING = { unit: "mm", step: 0.01, least: 0.01, most: 5 };
export const NODES = { unit: "", step: 1, least: 2, most: 9999 };
export const WIDTH = { unit: "mm", step: 0.05, least: 0.05, most: 30 };

/**
 * `attempt` and `save` of a number field.
 *
 * @param {Sketch} sketch
 * @param {string} kind what is measured
 * @param {() => string} words what undo calls it
 * @param {(value: string | number | null) => Edit[]} edits
 */
export function tried(sketch, kind, words, edits) {
  return {
    attempt: (/** @type {string | number} */ value) => sketch.attempt(edits(value)),
    save: (/** @type {string | number | null} */ value) => {
      letGo(kind);
      sketch.stopAttempt();
      void sketch.decide(words(), edits(value));
    },
  };
}

/**
 * Decide something else of a sketch.
 *
 * @param {Sketch} sketch
 * @param {string} kind
 * @param {string} words
 * @param {Edit[]} edits
 */
export function decideOn(sketch, kind, words, edits) {
  letGo(kind);
  void sketch.decide(words, edits);
}
