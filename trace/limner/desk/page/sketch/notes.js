/** Sentences on what is amiss with what lies on the desk, beside it. */

import { html } from "../dom.js";

/** @import { Drawing } from "../contract.js" */
/** @import { Desk } from "../desk.js" */

/**
 * What is amiss with a sketch: why it cannot be traced, what the job says of it wrongly, what the trace noticed.
 *
 * @param {Desk} desk
 * @param {string} name
 * @param {Drawing | null} drawing
 * @returns {string[]}
 */
export function amiss(desk, name, drawing) {
  const problems = desk.state.problems.filter((problem) => problem.sticker === name);
  return [whyNot(desk, name), ...problems.map(({ sentence }) => sentence), ...(drawing?.notes ?? [])].filter(
    Boolean,
  );
}

/**
 * Why a sketch cannot be traced as it is decided now.
 *
 * @param {Desk} desk
 * @param {string} name
 * @returns {string} "" where it can
 */
export function whyNot(desk, name) {
  const { state, sentence } = desk.sticker(name) ?? {};
  return state === "failed" ? (sentence ?? "") : "";
}

/**
 * Show sentences on small papers; those that are there already stay, so that they are read out once.
 *
 * @param {HTMLElement} container
 * @param {string[]} sentences
 */
export function showNotes(container, sentences) {
  const wanted = new Set(sentences);
  for (const note of [...container.children]) {
    if (!wanted.delete(note.textContent ?? "")) note.remove();
  }
  container.append(...[...wanted].map((sentence) => html("p", { class: "complaint" }, sentence)));
}
