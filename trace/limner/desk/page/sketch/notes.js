/** Sentences on what is amiss with what lies on the desk, beside it. */

import { html } from "../dom.js";

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
