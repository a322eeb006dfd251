/** Fields of slips: a label, and what can be changed in blue pencil. Each has `element` and `show`. */

import { button, html } from "../dom.js";

let count = 0;

/** @returns {string} an id that no other field has */
export const nextId = () => `field-${(count += 1)}`;

/**
 * A row of a slip.
 *
 * @param {string} label
 * @param {HTMLElement} field
 * @returns {HTMLElement}
 */
export function row(label, field) {
  field.id ||= nextId();
  return html("div", { class: "row" }, html("label", { for: field.id }, label), field);
}

/**
 * A line of text: saved by Enter or by leaving it, Escape takes back what was typed.
 *
 * @param {string} label
 * @param {(text: string) => void} save
 * @returns {{element: HTMLElement, show: (text: string) => void}}
 */
export function textField(label, save) {
  const input = html("input", { type: "text", autocomplete: "off", spellcheck: "false" });
  let shown = "";
  const commit = () => {
    const text = input.value.trim();
    if (text === shown || text === "") return void (input.value = shown);
    shown = text;
    save(text);
  };
  input.addEventListener("change", commit);
  input.addEventListener("keydown", (event) => {
    if (event.key === "Enter") commit();
    else if (event.key === "Escape" && input.value !== shown) {
      event.stopPropagation();
      input.value = shown;
    }
  });
  const show = (/** @type {string} */ text) => {
    if (document.activeElement === input && input.value !== shown) return;
    shown = text;
    input.value = text;
  };
  return { element: row(label, input), show };
}

/**
 * One of a few words.
 *
 * @template {string} W
 * @param {string} label
 * @param {readonly W[]} words
 * @param {(word: W) => void} save
 * @returns {{element: HTMLElement, show: (word: W) => void}}
 */
export function choiceField(label, words, save) {
  const id = nextId();
  const inputs = words.map((word) => {
    const input = html("input", { type: "radio", name: id, value: word });
    input.addEventListener("change", () => save(word));
    return input;
  });
  const choices = inputs.map((input, i) =>
    html("label", { class: "choice" }, input, html("span", {}, words[i])),
  );
  const group = html(
    "div",
    { class: "choices", role: "radiogroup", "aria-labelledby": `${id}-label` },
    ...choices,
  );
  const element = html("div", { class: "row" }, html("span", { id: `${id}-label` }, label), group);
  return { element, show: (word) => inputs.forEach((input) => (input.checked = input.value === word)) };
}

/**
 * A row of things to do, as words.
 *
 * @param {string} label "" for none
 * @param {...HTMLButtonElement} buttons
 * @returns {HTMLElement}
 */
export function deeds(label, ...buttons) {
  const name = label === "" ? [] : [html("span", {}, label)];
  return html("div", { class: "row deeds" }, ...name, html("span", { class: "words" }, ...buttons));
}

/**
 * A thing to do, as a word on a slip.
 *
 * @param {string} words
 * @param {() => void} act
 * @param {string} [full] its name where the words alone say too little
 * @returns {HTMLButtonElement}
 */
export const deed = (words, act, full) => button(words, act, { class: "deed", "aria-label": full });
