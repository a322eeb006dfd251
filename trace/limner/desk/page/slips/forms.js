/** Forms of a cut line: one or several, each touched on or off. */

import { html } from "../dom.js";
import { nextId } from "./fields.js";

/** @import { Table } from "../contract.js" */

export const FORMS = /** @type {const} */ (["outline", "circle", "ellipse", "rectangle"]);

/** @typedef {string | Table} Form a word of the job, or a form with a size and a place */

/**
 * @param {unknown} value of the job
 * @returns {Form[]}
 */
export function formsOf(value) {
  if (Array.isArray(value)) return value;
  return [/** @type {Form | undefined} */ (value) ?? "outline"];
}

/** @param {Form} form */
const wordOf = (form) =>
  typeof form === "string" ? form : (FORMS.find((word) => word in form) ?? "outline");

/**
 * @param {unknown} value
 * @returns {string} "outline and circle"
 */
export const saidOfForms = (value) => formsOf(value).map(wordOf).join(" and ");

/**
 * The forms once one of them is touched; at least one stays.
 *
 * @param {unknown} value
 * @param {string} word
 * @returns {Form | Form[]}
 */
export function toggled(value, word) {
  const forms = formsOf(value);
  const rest = forms.filter((form) => wordOf(form) !== word);
  const next = rest.length < forms.length ? rest : [...forms, word];
  if (next.length === 0) return word;
  return next.length === 1 ? next[0] : next;
}

/**
 * @param {(word: string) => void} touched
 * @returns {{element: HTMLElement, show: (value: unknown) => void}}
 */
export function formsField(touched) {
  const id = nextId();
  const inputs = FORMS.map((word) => {
    const input = html("input", { type: "checkbox", value: word });
    input.addEventListener("change", () => touched(word));
    return input;
  });
  const choices = inputs.map((input) =>
    html("label", { class: "choice" }, input, html("span", {}, input.value)),
  );
  const group = html("div", { class: "choices", role: "group", "aria-labelledby": id }, ...choices);
  const element = html("div", { class: "row" }, html("span", { id }, "Form"), group);
  const show = (/** @type {unknown} */ value) => {
    const on = formsOf(value).map(wordOf);
    for (const input of inputs) input.checked = on.includes(input.value);
  };
  return { element, show };
}
