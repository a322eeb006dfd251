/** Colour: with a colour in hand, areas are filled one after the other. */

import { html } from "../dom.js";
import { changeAreas } from "../edits/areas.js";
import { letGo } from "../marks.js";
import { showColour } from "../slips/area.js";
import { dab } from "../slips/colours.js";

/** @import { Shape } from "../contract.js" */
/** @import { Here } from "../here.js" */
/** @import { Hand } from "./hands.js" */

/** The dabs that lie above the foot while the hand holds a colour. @type {HTMLElement | null} */
let dabs = null;

/** @type {Hand} */
export const colourHand = {
  word: "colour",
  hint: "Take a colour, then touch the areas that it fills",
  take(here) {
    dabs = html("div", { class: "dabs in-hand", role: "radiogroup", "aria-label": "Colour in hand" });
    for (const colour of here.desk.state.colours) {
      dabs.append(dab(colour, "colour-in-hand", (name) => (here.colour = name)));
    }
    here.colour ??= here.desk.state.colours[0]?.name ?? null;
    for (const input of dabs.querySelectorAll("input")) input.checked = input.value === here.colour;
    document.getElementById("foot")?.append(dabs);
  },
  drop() {
    dabs?.remove();
    dabs = null;
  },
  tap(contact, here) {
    const area = here.sketch?.areaAt(contact);
    if (area) fillArea(here, area);
  },
  begin: () => null,
};

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
