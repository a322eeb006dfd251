/** Colour: with a colour in hand, areas are filled one after the other. */

import { html } from "../dom.js";
import { changeAreas } from "../edits/areas.js";
import { letGo } from "../marks.js";
import { showColour } from "../slips/area.js";
import { showDabs, sketchColours } from "../slips/colours.js";
import { deed } from "../slips/fields.js";
import { newColour } from "../slips/new-colour.js";

/** @import { Shape } from "../contract.js" */
/** @import { Here } from "../here.js" */
/** @import { Hand } from "./hands.js" */

/** The paper with dabs that lies above the foot while the hand holds a colour. @type {HTMLElement | null} */
let paper = null;

/** @type {Hand} */
export const colourHand = {
  word: "colour",
  hint: "Take a colour, then touch what it fills",
  take(here) {
    here.colour ??= firstColour(here);
    const dabs = html("div", { class: "dabs", role: "radiogroup", "aria-label": "Colour in hand" });
    const mixing = newColour(here, (name) => hold(here, dabs, name));
    const mix = deed("new …", () => mixing.open(), "Mix a new one");
    paper = html("div", { class: "in-hand" }, html("div", { class: "mixed" }, dabs, mix), mixing.element);
    document.getElementById("foot")?.append(paper);
    hold(here, dabs, here.colour);
  },
  drop() {
    paper?.remove();
    paper = null;
  },
  tap(contact, here) {
    const area = here.sketch?.areaAt(contact);
    if (area) fillArea(here, area);
  },
  begin: () => null,
};

/**
 * The first colour is one that is used for drawing, not the sheet's own.
 *
 * @param {Here} here
 * @returns {string | null}
 */
function firstColour({ desk }) {
  const names = desk.state.colours.map(({ name }) => name);
  return names.find((name) => name !== desk.state.document.sheet?.background) ?? names[0] ?? null;
}

/**
 * Take a colour in hand.
 *
 * @param {Here} here
 * @param {HTMLElement} dabs
 * @param {string | null} name
 */
function hold(here, dabs, name) {
  here.colour = name;
  const found = here.sketch ? sketchColours(here.sketch) : [];
  showDabs(dabs, [...here.desk.state.colours, ...found], name ?? "", (other) => hold(here, dabs, other));
  if (name !== null) here.hint(`${name} in hand: touch what it fills`);
}

/**
 * Fill an area with the colour in hand.
 *
 * @param {Here} here
 * @param {Shape} area
 */
export function fillArea(here, area) {
  const { sketch, desk, colour } = here;
  if (!sketch || colour === null) return;
  const screen = desk.state.colours.find((one) => one.name === colour)?.screen ?? colour;
  letGo("colour");
  void sketch.decide(`Colour of ${area.name}`, changeAreas(sketch.areas(), [area], { fill: colour }));
  showColour(sketch, [area], screen);
}
