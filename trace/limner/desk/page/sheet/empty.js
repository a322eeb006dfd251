/** An empty desk says what it is for, and offers the tide-pool sheet to begin with. */

import { button, html } from "../dom.js";

/** @import { Here } from "../here.js" */

/**
 * @param {Here} here
 * @returns {HTMLElement}
 */
export function emptyDesk(here) {
  const choose = button("Choose them", () => here.bring(), { class: "deed" });
  const offer = button("begin with the tide-pool sheet", () => void begin(), { class: "deed" });
  const begin = async () => {
    offer.disabled = true;
    await here.desk.layDemo();
    offer.disabled = false;
  };
  return html(
    "div",
    { class: "empty" },
    html("h2", {}, "Drop sketches here"),
    html("p", {}, "Photographs or scans of pencil drawings, each on its own sheet of paper."),
    html("p", {}, choose, " or ", offer),
  );
}
