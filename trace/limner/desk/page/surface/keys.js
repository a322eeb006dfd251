/** Keys that move and enlarge the paper: arrows, + and -, 0 for all of it; the space bar makes a drag move it. */

import { takesText } from "../dom.js";

/** @import { Pointers } from "./pointers.js" */
/** @import { View } from "./view.js" */

const STEP_PX = 60;
const STEP_FACTOR = 1.25;

/** @type {Record<string, [number, number]>} */
const ARROWS = {
  ArrowLeft: [STEP_PX, 0],
  ArrowRight: [-STEP_PX, 0],
  ArrowUp: [0, STEP_PX],
  ArrowDown: [0, -STEP_PX],
};

/**
 * @param {Element} surface
 * @param {Pointers} pointers
 * @param {{view: () => View, fit: () => void}} paper
 */
export function followKeys(surface, pointers, paper) {
  /** @param {boolean} held */
  const space = (held) => {
    pointers.space = held;
    surface.classList.toggle("moves", held);
  };
  window.addEventListener("keydown", (event) => {
    if (event.defaultPrevented || takesText(event.target) || event.ctrlKey || event.metaKey || event.altKey)
      return;
    if (event.key === " " && isBare(event.target)) {
      event.preventDefault();
      space(true);
    } else if (isBare(event.target) && ARROWS[event.key]) {
      event.preventDefault();
      paper.view().move(...ARROWS[event.key]);
    } else keyed(event.key, surface, paper);
  });
  window.addEventListener("keyup", (event) => {
    if (event.key === " ") space(false);
  });
  window.addEventListener("blur", () => space(false));
}

/**
 * @param {string} key
 * @param {Element} surface
 * @param {{view: () => View, fit: () => void}} paper
 */
function keyed(key, surface, paper) {
  const x = surface.clientWidth / 2;
  const y = surface.clientHeight / 2;
  if (key === "+" || key === "=") paper.view().enlarge(STEP_FACTOR, x, y);
  else if (key === "-") paper.view().enlarge(1 / STEP_FACTOR, x, y);
  else if (key === "0") paper.fit();
}

/**
 * Whether nothing that has a use for the key has the focus.
 *
 * @param {EventTarget | null} target
 */
const isBare = (target) =>
  !(target instanceof Element) || target.closest("button, input, select, a, dialog, [role=radio]") === null;
