/** Of a sticker: the colour under its art, out to the cut line and past it. */

import { html } from "../dom.js";
import { colourField } from "./colours.js";
import { decide, saidAt, setKey } from "./onsheet.js";

/** @import { Here } from "../here.js" */

/**
 * A colour that can be none; its dabs are seen while it is being chosen.
 *
 * @param {Here} here
 * @param {string} label
 * @param {(string | number)[]} where
 * @param {string} words what undo calls it
 * @param {string} none what is written where there is none
 */
export function optionalColour(here, label, where, words, none) {
  const colour = colourField(label, here, {
    found: () => [],
    save: (fill) => void decide(here, words, setKey(where, fill)),
  });
  // It takes the focus itself, so that a touch on a dab does not put the dabs away.
  const element = html("div", { class: "quietly", tabindex: -1 }, colour.element);
  colour.element.querySelector("input")?.setAttribute("placeholder", none);
  return { element, show: () => colour.show(saidAt(here, where) ?? "") };
}

/**
 * @param {Here} here
 * @param {string} name
 */
export const groundField = (here, name) =>
  optionalColour(here, "Ground", ["sticker", name, "ground"], `Ground of ${name}`, "none");
