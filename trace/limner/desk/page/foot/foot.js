/** The foot of the paper: what the desk is doing, the hands, and the few words that are always at hand. */

import { button, html, isTyping } from "../dom.js";
import { shineThrough } from "../sketch/shine.js";
import { sayStatus } from "./status.js";

/** @import { Here } from "../here.js" */
/** @import { Hands } from "../hands/hands.js" */

export class Foot {
  /**
   * @param {HTMLElement} element
   * @param {Here} here
   * @param {Hands} hands
   */
  constructor(element, here, hands) {
    this.here = here;
    this.hands = hands;
    this.about = button("", () => this.aboutSketch(this.about.matches(":focus-visible")), {
      class: "about",
      "aria-haspopup": "dialog",
    });
    this.status = html("span", { role: "status" });
    this.hint = html("p", { class: "hint", "aria-live": "polite", hidden: true });
    this.undo = button("Undo", () => void here.desk.history("undo"), { "aria-keyshortcuts": "Control+Z" });
    this.redo = button("Redo", () => void here.desk.history("redo"), {
      "aria-keyshortcuts": "Control+Shift+Z",
    });
    this.back = button("Back to the sheet", () => here.go(null), { "aria-keyshortcuts": "Escape" });
    this.middle = html("div", { class: "middle" });
    /** What is at hand on a sketch, too. */
    this.always = html("div", {});
    this.shine = shineThrough((share) => here.sketch?.shine(share));
    element.append(
      html("p", { class: "says" }, this.about, this.status),
      this.middle,
      html("div", { class: "ends" }, this.always, this.back, this.undo, this.redo),
      this.hint,
      this.shine,
    );
    for (const event of ["state", "sticker", "works"]) here.desk.addEventListener(event, () => this.show());
    window.addEventListener("keydown", (event) => this.keyed(event));
  }

  /**
   * Put the words of the sheet or of a sketch in the middle, and what is always there beside them.
   *
   * @param {HTMLElement[]} words
   * @param {HTMLElement[]} [always] where it is not among the words
   */
  arrange(words, always = []) {
    this.middle.replaceChildren(...words);
    this.always.replaceChildren(...always);
    this.show();
  }

  show() {
    const { desk, sketch } = this.here;
    const { undo, redo, name } = desk.state;
    this.about.replaceChildren(
      sketch?.name ?? name,
      html("span", { class: "more" }, sketch ? found(sketch) : ""),
    );
    const words = sayStatus(desk, sketch?.name ?? null);
    if (this.status.textContent !== words) this.status.textContent = words;
    this.undo.disabled = undo === null;
    this.undo.title = undo ?? "";
    this.redo.disabled = redo === null;
    this.redo.title = redo ?? "";
    this.about.disabled = !sketch;
    this.back.hidden = !sketch;
    this.shine.hidden = !sketch;
  }

  /**
   * The slip of the sketch as a whole.
   *
   * @param {boolean} keyboard
   */
  aboutSketch(keyboard) {
    const { x, y, width } = this.about.getBoundingClientRect();
    const place = { x: x + width / 2, y, keyboard, from: this.about };
    if (this.here.sketch) this.here.slips.open("sketch", null, place);
  }

  /** @param {string} words */
  say(words) {
    this.hint.textContent = words;
    this.hint.hidden = words === "";
  }

  /** @param {KeyboardEvent} event */
  keyed(event) {
    if (!(event.ctrlKey || event.metaKey) || event.key.toLowerCase() !== "z" || isTyping(event.target))
      return;
    event.preventDefault();
    void this.here.desk.history(event.shiftKey ? "redo" : "undo");
  }
}

/** @param {import("../sketch/sketch.js").Sketch} sketch */
function found({ drawing }) {
  return drawing ? ` · ${drawing.nodes} nodes, within ${drawing.error_mm.toFixed(2)} mm` : "";
}
