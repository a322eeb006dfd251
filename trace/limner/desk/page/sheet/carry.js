/** A sketch that waits is carried onto the sheet: where it is let go, it lies. */

import { html } from "../dom.js";
import { inMm } from "../edits/millimetres.js";
import { placeEdits } from "../edits/places.js";

/** @import { Edit } from "../contract.js" */
/** @import { Here } from "../here.js" */

/** Less than this is a touch. */
const BEGINS_PX = 6;

/**
 * @param {HTMLElement} print
 * @param {string} name
 * @param {Here} here
 */
export function carriedOnto(print, name, here) {
  print.addEventListener("dragstart", (event) => event.preventDefault());
  print.addEventListener("pointerdown", (down) => {
    if (down.button !== 0) return;
    /** @type {HTMLElement | null} */
    let ghost = null;
    const move = (/** @type {PointerEvent} */ event) => {
      const far = Math.hypot(event.clientX - down.clientX, event.clientY - down.clientY);
      if (!ghost && far < BEGINS_PX) return;
      ghost ??= ghostOf(print);
      ghost.style.transform = `translate(${event.clientX}px, ${event.clientY}px) translate(-50%, -50%)`;
    };
    const end = (/** @type {PointerEvent} */ event) => {
      print.removeEventListener("pointermove", move);
      print.removeEventListener("pointerup", end);
      print.removeEventListener("pointercancel", end);
      if (!ghost) return;
      ghost.remove();
      // The touch that follows a drag is none.
      print.addEventListener("click", stop, { capture: true, once: true });
      setTimeout(() => print.removeEventListener("click", stop, { capture: true }), 0);
      if (event.type === "pointerup") lay(name, event.clientX, event.clientY, here);
    };
    print.setPointerCapture(down.pointerId);
    print.addEventListener("pointermove", move);
    print.addEventListener("pointerup", end);
    print.addEventListener("pointercancel", end);
  });
}

/** @param {Event} event */
function stop(event) {
  event.preventDefault();
  event.stopImmediatePropagation();
}

/** @param {HTMLElement} print */
function ghostOf(print) {
  const picture = print.querySelector(".print")?.cloneNode(true);
  const ghost = html("div", { class: "carried", "aria-hidden": true }, ...(picture ? [picture] : []));
  document.body.append(ghost);
  return ghost;
}

/**
 * @param {string} name
 * @param {number} x of the screen
 * @param {number} y
 * @param {Here} here
 */
function lay(name, x, y, here) {
  const { sheet } = here;
  const page = sheet?.sheet?.page;
  if (!sheet || !page) return;
  const [x_mm, y_mm] = sheet.view.toPaper(x, y);
  if (x_mm < 0 || y_mm < 0 || x_mm > page.width_mm || y_mm > page.height_mm) return;
  /** @type {Edit} */
  const at = { what: "set", where: ["sticker", name, "at"], to: [inMm(x_mm), inMm(y_mm)] };
  const others = placeEdits(here.desk.state.document, sheet.seen(), new Map());
  void here.desk.decide(`Place of ${name}`, [...others, at]);
}
