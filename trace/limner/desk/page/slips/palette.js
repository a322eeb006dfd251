/** The slip of the job's colours: each by name, with its press or screen value; a change is seen everywhere at once. */

import { html } from "../dom.js";
import { renameColour, sayColour, usesOf } from "../edits/colours.js";
import { letGo } from "../marks.js";
import { newColour, readColour } from "./new-colour.js";
import { deed, deeds } from "./fields.js";
import { decide, setKey } from "./onsheet.js";

/** @import { Colour } from "../contract.js" */
/** @import { Here } from "../here.js" */
/** @import { Slip, SlipKind } from "./slips.js" */

/** @type {SlipKind<null>} */
export const paletteSlip = {
  fill(slip, _about, here) {
    const list = html("ul", { class: "palette" });
    const mixing = newColour(here, () => {});
    slip.put(
      list,
      deeds(
        "",
        deed("new …", () => mixing.open(), "Mix a new one"),
      ),
      mixing.element,
    );
    return () => {
      const colours = here.desk.state.colours.filter(
        ({ name }) => name in (here.desk.state.document.colours ?? {}),
      );
      const key = JSON.stringify(colours);
      if (list.dataset.shown !== key && !list.contains(document.activeElement)) {
        list.dataset.shown = key;
        list.replaceChildren(...colours.map((colour) => entry(slip, colour, here)));
      }
      return "Colours";
    };
  },
};

/**
 * @param {Slip} slip
 * @param {Colour} colour
 * @param {Here} here
 * @returns {HTMLElement}
 */
function entry(slip, colour, here) {
  const { name } = colour;
  const paint = html("span", { class: "dab" });
  paint.style.background = colour.screen;
  const called = html("input", { type: "text", "aria-label": `Name of ${name}`, autocomplete: "off" });
  const value = html("input", {
    type: "text",
    "aria-label": `Value of ${name}`,
    autocomplete: "off",
    class: "inks",
  });
  const written = sayColour(here.desk.state.document.colours?.[name]);
  called.value = name;
  value.value = written;
  onChange(called, name, (text) => rename(here, slip, name, text));
  onChange(value, written, (text) => {
    const read = readColour(text);
    if (read === null) {
      slip.complain("Write four inks in percent, such as 0 52 50 3, or a screen colour such as #e8a87c.");
      return;
    }
    slip.complain("");
    letGo("colour");
    void decide(here, `Colour ${name}`, setKey(["colours", name], read));
  });
  const off = deed(
    "take off",
    () => void decide(here, `${name} taken off`, setKey(["colours", name], null)),
    `Take ${name} off`,
  );
  const used = usesOf(here.desk.state.document, name).length;
  off.hidden = used > 0;
  const line = html("div", { class: "line" }, paint, called, value);
  const said = shiftOf(here, name) ?? (colour.press ? "" : "a screen colour: the press comes near it");
  return html("li", {}, line, html("p", { class: "is" }, said), off);
}

/**
 * What the sheet was found to say of a colour that cannot be printed as it is seen.
 *
 * @param {Here} here
 * @param {string} name
 */
const shiftOf = (here, name) =>
  here.sheet?.sheet?.findings.find(
    ({ code, message }) => code === "colour-shifts" && message.includes(`"${name}"`),
  )?.message ?? null;

/**
 * @param {Here} here
 * @param {Slip} slip
 * @param {string} from
 * @param {string} to
 */
function rename(here, slip, from, to) {
  if (here.desk.state.colours.some(({ name }) => name === to))
    return slip.complain(`There is a colour ${to} already.`);
  slip.complain("");
  void decide(here, `Name of ${from}`, renameColour(here.desk.state.document, from, to));
}

/**
 * @param {HTMLInputElement} input
 * @param {string} before
 * @param {(text: string) => void} save
 */
function onChange(input, before, save) {
  const commit = () => {
    const text = input.value.trim();
    if (text === "" || text === before) return void (input.value = before);
    before = text;
    save(text);
  };
  input.addEventListener("change", commit);
  input.addEventListener("keydown", (event) => {
    if (event.key === "Enter") {
      commit();
      input.blur();
    }
  });
}
