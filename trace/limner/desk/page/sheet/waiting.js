/** Sketches that have no place on the sheet yet wait along the lower edge of the desk. */

import { button, html } from "../dom.js";
import { carriedOnto } from "./carry.js";
import { photographOf } from "../server.js";

/** @import { Sheet, Sticker } from "../contract.js" */
/** @import { Here } from "../here.js" */

/** A print of a sketch is shown no larger than this, on fine screens. */
const PRINT_PX = 240;

/**
 * @param {HTMLElement} container
 * @param {Here} here
 * @param {Sheet | null} sheet
 */
export function showWaiting(container, here, sheet) {
  const there = new Set(sheet?.stickers.map((sticker) => sticker.name));
  const waits = here.desk.state.stickers.filter(({ name }) => !there.has(name));
  const key = JSON.stringify(waits);
  if (container.dataset.shown === key) return;
  container.dataset.shown = key;
  const focused = container.contains(document.activeElement)
    ? document.activeElement?.getAttribute("data-sticker")
    : null;
  container.replaceChildren(...waits.map((sticker) => waiting(sticker, here)));
  if (focused)
    /** @type {HTMLElement | null} */ (
      container.querySelector(`[data-sticker="${CSS.escape(focused)}"]`)
    )?.focus();
}

/**
 * @param {Sticker} sticker
 * @param {Here} here
 * @returns {HTMLElement}
 */
function waiting(sticker, here) {
  const { name, sketch, state, sentence, token } = sticker;
  const picture = html("span", { class: "print" });
  if (sketch) {
    picture.append(
      html("img", { src: photographOf(name, token, PRINT_PX), alt: "", loading: "lazy", decoding: "async" }),
    );
  }
  const element = button("", () => here.go(name), { "data-sticker": name, class: "waits" });
  carriedOnto(element, name, here);
  element.append(picture, html("span", { class: "name" }, name));
  if (state === "failed" && sentence) {
    const id = `why-${name}`;
    element.setAttribute("aria-describedby", id);
    return html("div", { class: "failed" }, element, html("p", { id, class: "complaint" }, sentence));
  }
  return element;
}
