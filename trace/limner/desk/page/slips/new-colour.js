/** A new colour of the job: its name, and its four inks in percent or its colour on the screen. */

import { html } from "../dom.js";
import { deed, deeds, row } from "./fields.js";

/** @import { Here } from "../here.js" */

const INKS =
  /^\s*(?:cmyk)?[\s([]*(\d+(?:\.\d+)?)[\s,/]+(\d+(?:\.\d+)?)[\s,/]+(\d+(?:\.\d+)?)[\s,/]+(\d+(?:\.\d+)?)[\s)\]]*$/i;
const SCREEN = /^\s*#?([0-9a-f]{6})\s*$/i;

/**
 * What was typed, as the job file has it; null if it is no colour.
 *
 * @param {string} text
 * @returns {string | {cmyk: number[]} | null}
 */
export function readColour(text) {
  const screen = SCREEN.exec(text);
  if (screen) return `#${screen[1].toLowerCase()}`;
  const inks = INKS.exec(text)?.slice(1).map(Number);
  return inks && inks.every((ink) => ink <= 100) ? { cmyk: inks } : null;
}

/**
 * @param {Here} here
 * @param {(name: string) => void} take called with the new colour's name once it is saved
 * @returns {{element: HTMLElement, open: () => void}}
 */
export function newColour(here, take) {
  const name = html("input", { type: "text", autocomplete: "off", spellcheck: "false" });
  const inks = html("input", { type: "text", autocomplete: "off", placeholder: "0 52 50 3" });
  const say = html("p", { class: "complaint", role: "alert", hidden: true });
  const complain = (/** @type {string} */ sentence) => {
    say.textContent = sentence;
    say.hidden = sentence === "";
  };
  const save = async () => {
    const colour = readColour(inks.value);
    const called = name.value.trim();
    if (called === "") return complain("Give the colour a word to call it by.");
    if (colour === null)
      return complain("Write four inks in percent, such as 0 52 50 3, or a screen colour such as #e8a87c.");
    complain("");
    const edits = [{ what: /** @type {const} */ ("set"), where: ["colours", called], to: colour }];
    if (!(await here.desk.decide(`New colour ${called}`, edits))) return;
    element.hidden = true;
    take(called);
  };
  for (const input of [name, inks]) {
    input.addEventListener("keydown", (event) => {
      if (event.key === "Enter") void save();
      if (event.key === "Escape") {
        event.stopPropagation();
        element.hidden = true;
      }
    });
  }
  const element = html("div", { class: "mixing", hidden: true });
  element.append(
    row("Called", name),
    row("CMYK or screen", inks),
    say,
    deeds(
      "",
      deed("Add it", () => void save()),
    ),
  );
  const open = () => {
    element.hidden = !element.hidden;
    if (!element.hidden) name.focus();
  };
  return { element, open };
}
