/** Lettering on the sheet is moved by dragging, and new lettering begins where the sheet is touched. */

import { inMm } from "../edits/millimetres.js";

/** @import { Point } from "../contract.js" */
/** @import { Here } from "../here.js" */
/** @import { Contact, Stroke } from "../surface/pointers.js" */
/** @import { Sheet } from "./sheet.js" */

/** What new lettering is, until something else is decided. */
const NEW = { text: "Lettering", size: "12 pt", face: "display" };

/**
 * @param {Here} here
 * @param {Sheet} sheet
 * @param {number} index
 * @param {Contact} contact
 * @returns {Stroke | null}
 */
export function moveLettering(here, sheet, index, contact) {
  if (!sheet.letters.of(index)) return null;
  const from = sheet.letters.at(index);
  let now = from;
  let frame = 0;
  const draw = () => {
    frame = 0;
    sheet.letters.hold(index, now);
  };
  return {
    move: ({ x_mm, y_mm }) => {
      now = { ...from, x: from.x + x_mm - contact.x_mm, y: from.y + y_mm - contact.y_mm };
      frame ||= requestAnimationFrame(draw);
    },
    end: () => {
      cancelAnimationFrame(frame);
      draw();
      decidePlace(here, sheet, index, [now.x, now.y]);
    },
    cancel: () => {
      cancelAnimationFrame(frame);
      sheet.letters.hold(index, null);
    },
  };
}

/**
 * @param {Here} here
 * @param {Sheet} sheet
 * @param {number} index
 * @param {Point} at
 */
export function decidePlace(here, sheet, index, at) {
  const text = here.desk.state.document.lettering?.[index]?.text ?? "";
  const edit = { what: /** @type {const} */ ("set"), where: ["lettering", index, "at"], to: at.map(inMm) };
  void here.desk.decide(`Place of “${text}”`, [edit]).then((saved) => {
    if (!saved) sheet.letters.hold(index, null);
  });
}

/**
 * The next touch of the sheet sets lettering there, which is then typed.
 *
 * @param {Here} here
 * @param {Sheet} sheet
 */
export function newLettering(here, sheet) {
  here.slips.close();
  here.hint("Touch the place where it is to stand.");
  here.surface.classList.add("picks");
  sheet.placing = (contact) => {
    endPlacing(here, sheet);
    void setLettering(here, sheet, contact);
  };
}

/**
 * @param {Here} here
 * @param {Sheet} sheet
 */
export function endPlacing(here, sheet) {
  sheet.placing = null;
  here.surface.classList.remove("picks");
  here.hint("");
}

/**
 * @param {Here} here
 * @param {Sheet} sheet
 * @param {Contact} contact
 */
async function setLettering(here, sheet, { x_mm, y_mm, x, y }) {
  const index = (here.desk.state.document.lettering ?? []).length;
  const to = { ...NEW, at: [inMm(x_mm), inMm(y_mm)] };
  if (!(await here.desk.decide("New lettering", [{ what: "add", where: ["lettering"], to }]))) return;
  here.slips.open("lettering", index, { x, y, keyboard: true });
  const text = document.querySelector("dialog.slip textarea");
  if (text instanceof HTMLTextAreaElement) text.select();
  await sheet.follow();
}
