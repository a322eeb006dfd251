/** The field "Colour": a name or a value typed, or a dab touched; and a new colour mixed beside it. */

import { html } from "../dom.js";
import { deed, row } from "./fields.js";
import { newColour } from "./new-colour.js";

/** @import { Colour } from "../contract.js" */
/** @import { Here } from "../here.js" */
/** @import { Sketch } from "../sketch/sketch.js" */

/**
 * @typedef {object} ColourOptions
 * @property {() => Colour[]} found colours of the sketch that the job has no name for
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
  const mix = deed("new …", () => mixing.open(), "Mix a new one");
  const element = html(
    "div",
    { class: "colour" },
    row(label, input),
    list,
    html("div", { class: "mixed" }, jobs, mix),
    found,
    mixing.element,
  );
  const show = (/** @type {string} */ name) => {
    if (document.activeElement !== input || input.value === shown) input.value = name;
    shown = name;
    const colours = here.desk.state.colours;
    list.replaceChildren(...colours.map((colour) => html("option", { value: colour.name })));
    showDabs(jobs, colours, name, take);
    showDabs(found, options.found(), name, take);
    found.hidden = found.childElementCount === 0;
  };
  return { element, show };
}

/** More dabs than this are no help. */
const MOST_FOUND = 12;

/**
 * Colours that the sketch itself was given, and that the job has no name for.
 *
 * @param {Sketch} sketch
 * @returns {Colour[]}
 */
export function sketchColours(sketch) {
  const named = new Set(sketch.desk.state.colours.map((colour) => colour.screen));
  const areas = (sketch.confirmed?.fills ?? []).filter((shape) => shape.role === "area");
  const found = [...new Set(areas.map((shape) => shape.fill))].filter((fill) => !named.has(fill));
  return found.slice(0, MOST_FOUND).map((screen) => ({ name: screen, screen, press: null, built_in: false }));
}

/**
 * Bring a row of dabs in step with colours.
 *
 * @param {HTMLElement} group
 * @param {Colour[]} colours
 * @param {string} taken
 * @param {(name: string) => void} take
 */
export function showDabs(group, colours, taken, take) {
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
function dab(colour, group, take) {
  const input = html("input", { type: "radio", name: group, value: colour.name, "aria-label": colour.name });
  input.addEventListener("change", () => take(colour.name));
  const paint = html("span", { class: "dab" });
  paint.style.background = colour.screen;
  return html("label", { title: colour.name }, input, paint);
}
