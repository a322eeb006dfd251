/**
 * Hands: what a touch does on a sketch. One of five is taken up at a time, by a word at the foot or by its key.
 *
 * Every hand is a module of its own and is registered below. A hand is
 *
 *     { word, hint, take?(here), drop?(here), tap(contact, here), begin(contact, here) -> Stroke | null }
 *
 * `contact` and `Stroke` are those of `surface/pointers.js`; a hand that begins no stroke lets the paper move.
 * What a hand draws while it draws goes into `here.sketch.trail`; what it decides, through `here.desk.decide`.
 */

import { html } from "../dom.js";
import { takesText } from "../dom.js";
import { ByKey } from "./by-key.js";
import { colourHand } from "./colour.js";
import { drawHand } from "./draw.js";
import { ringHand } from "./ring.js";
import { rubHand } from "./rub.js";
import { touchHand } from "./touch.js";

/** @import { Here } from "../here.js" */
/** @import { Contact, Stroke } from "../surface/pointers.js" */

/**
 * @typedef {object} Hand
 * @property {string} word at the foot of the paper
 * @property {boolean} [draws] whether it draws: then a cross can do so by keys
 * @property {string} hint what it does, in few words
 * @property {(here: Here) => void} [take] it is taken up
 * @property {(here: Here) => void} [drop] it is put down
 * @property {(contact: Contact, here: Here) => void} tap
 * @property {(contact: Contact, here: Here) => Stroke | null} begin
 */

/** In the order of their keys. @type {Hand[]} */
export const HANDS = [touchHand, colourHand, drawHand, rubHand, ringHand];

export class Hands {
  /** @param {Here} here */
  constructor(here) {
    this.here = here;
    /** @type {Hand} */
    this.hand = touchHand;
    /** @type {ByKey | null} */
    this.byKey = null;
    this.inputs = HANDS.map((hand, index) => {
      const input = html("input", { type: "radio", name: "hand", value: hand.word, checked: index === 0 });
      input.setAttribute("aria-keyshortcuts", String(index + 1));
      input.addEventListener("change", () => this.take(hand));
      return input;
    });
    const words = HANDS.map((hand, index) =>
      html(
        "label",
        { title: `${hand.hint} (${index + 1})` },
        this.inputs[index],
        html("span", {}, hand.word),
      ),
    );
    this.element = html("div", { class: "hands", role: "radiogroup", "aria-label": "Hand" }, ...words);
    window.addEventListener("keydown", (event) => this.keyed(event));
  }

  /** @param {Hand} hand */
  take(hand) {
    if (hand === this.hand) return;
    if (hand.draws && this.isArt()) return this.refuse();
    this.here.slips.close();
    this.hand.drop?.(this.here);
    this.hand = hand;
    this.inputs[HANDS.indexOf(hand)].checked = true;
    this.here.surface.dataset.hand = hand.word;
    this.here.hint(hand === touchHand ? "" : hand.hint);
    hand.take?.(this.here);
    this.byKey?.drop();
    this.byKey = hand.draws ? new ByKey(this.here, hand) : null;
  }

  /** Whether what lies there is art of her own, which is taken as it is. */
  isArt() {
    const { sketch, desk } = this.here;
    return sketch !== null && Boolean(desk.sticker(sketch.name)?.art);
  }

  refuse() {
    this.inputs[HANDS.indexOf(this.hand)].checked = true;
    this.here.hint("This is art of your own: it is taken as it is");
  }

  /** @param {string} word */
  takeBy(word) {
    const hand = HANDS.find((one) => one.word === word);
    if (hand) this.take(hand);
  }

  /** Take up the first one again, as a sketch is come to or left. */
  rest() {
    this.take(touchHand);
  }

  /** @param {KeyboardEvent} event */
  keyed(event) {
    const { ctrlKey, metaKey, altKey, defaultPrevented, target, key } = event;
    if (defaultPrevented || ctrlKey || metaKey || altKey || takesText(target) || !this.here.sketch) return;
    const hand = HANDS[Number(key) - 1];
    if (hand) this.take(hand);
  }
}
