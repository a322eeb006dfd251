/** Shine-through: one slider between photograph and shapes; P shows the bare photograph while it is held. */

import { html, takesText } from "../dom.js";

const KEY = "p";
const STEP = 5;

/**
 * @param {(share: number) => void} show called with how much of the shapes is to be seen, 0 to 1
 * @returns {HTMLElement}
 */
export function shineThrough(show) {
  const slider = html("input", {
    type: "range",
    id: "shine",
    min: 0,
    max: 100,
    step: STEP,
    value: 80,
    "aria-label": "Shine-through",
    "aria-keyshortcuts": "P",
    title: "Hold P to see the photograph alone",
  });
  const share = () => Number(slider.value) / 100;
  const say = () => slider.setAttribute("aria-valuetext", `${slider.value} percent shapes`);
  slider.addEventListener("input", () => {
    say();
    show(share());
  });
  say();
  holdKey(
    () => show(0),
    () => show(share()),
  );
  return html("div", { class: "shine" }, html("span", {}, "photograph"), slider, html("span", {}, "shapes"));
}

/**
 * @param {() => void} pressed
 * @param {() => void} released
 */
function holdKey(pressed, released) {
  let held = false;
  window.addEventListener("keydown", (event) => {
    if (event.key.toLowerCase() !== KEY || event.ctrlKey || event.metaKey || held || takesText(event.target))
      return;
    held = true;
    pressed();
  });
  const release = () => {
    if (held) released();
    held = false;
  };
  window.addEventListener("keyup", (event) => {
    if (event.key.toLowerCase() === KEY) release();
  });
  window.addEventListener("blur", release);
}
