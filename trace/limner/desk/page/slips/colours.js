/** The field "Colour": a name or a value typed, or a dab touched; and a new colour mixed beside it. */

import { html } from "../dom.js";
import { deed, row } from "./fields.js";
import { newColour } from "./new-colour.js";

/** @import { Colour } from "../contract.js" */
/** @import { Here } from "../here.js" */

/**
 * @typedef {object} ColourOptions
 * @property {() => string[]} found colours of the sketch that the job has no name for
 * @property {(fill: string | null, screen: string) => void} save null: the sketch's own again
 */

/**
 * @param {string} label
 * @param {Here} here
 * @param {ColourOptions} options
 * @returns {{element: HTMLElement, show: (name: string) => void}}
 */
export function colourField(label, here, options) {
  const list = html("datalist", { id: "colour-names" });
  const input = html("input", { type: "text", list: list.id, autocomplete: "off", spellcheck: "false" });
  const jobs = html("div", { class: "dabs", role: "radiogroup", "aria-label": "From the job" });
  const found = html("div", { class: "dabs", role: "radiogroup", "aria-label": "From the sketch" });
  let shown = "";
  const take = (/** @type {string} */ name) => {
    const colour = here.desk.state.colours.find((one) => one.name === name);
    shown = name;
    input.value = name;
    options.save(name, colour?.screen ?? name);
  };
  input.addEventListener("change", () => {
    if (input.value.trim() === "") options.save(null, "");
    else if (input.value.trim() !== shown) take(input.value.trim());
  });
  const mixing = newColour(here, take);
  const element = html(
    "div",
    { class: "colour" },
    row(label, input),
    list,
    jobs,
    html(
      "div",
      { class: "found" },
      found,
      deed("new …", () => mixing.open(), "Mix a new one"),
    ),
    mixing.element,
  );
  const show = (/** @type {string} */ name) => {
    if (document.activeElement !== input || input.value === shown) input.value = name;
    shown = name;
    const colours = here.desk.state.colours;
    list.replaceChildren(...colours.map((colour) => html("option", { value: colour.name })));
    showDabs(jobs, colours, name, take);
    showDabs(found, options.found().map(unnamed), name, take);
    found.hidden = found.childElementCount === 0;
  };
  return { element, show };
}

/** @param {string} screen */
const unnamed = (screen) => ({ name: screen, screen, press: null, built_in: false });

/**
 * @param {HTMLElement} group
 * @param {Colour[]} colours
 * @param {string} taken
 * @param {(name: string) => void} take
 */
function showDabs(group, colours, taken, take) {
  const key = colours.map(({ name, screen }) => `${name} ${screen}`).join();
  if (group.dataset.shown !== key) {
    group.dataset.shown = key;
    group.replaceChildren(
      ...colours.map((colour) => dab(colour, group.getAttribute("aria-label") ?? "", take)),
    );
  }
  for (const input of group.querySelectorAll("input")) input.checked = input.value === taken;
}

/**
 * A dab of one colour.
 *
 * @param {Colour} colour
 * @param {string} group
 * @param {(name: string) => void} take
 */
export function dab(colour, group, take) {
  const input = html("input", { type: "radio", name: group, value: colour.name, "aria-label": colour.name });
  input.addEventListener("change", () => take(colour.name));
  const paint = html("span", { class: "dab" });
  paint.style.background = colour.screen;
  return html("label", { title: colour.name }, input, paint);
}
