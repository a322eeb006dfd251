/** Things on the sheet are taken, moved and turned, with a pointer or with keys. */

import { canBePlaced, tableOf } from "../edits/places.js";
import { Moving } from "./moving.js";

/** @import { Here } from "../here.js" */
/** @import { Contact, Stroke } from "../surface/pointers.js" */
/** @import { Sheet } from "./sheet.js" */

/** A step of an arrow key, ten of them with Shift; keys are let go once none was pressed for this long. */
const STEP_MM = 0.5;
const STEP_DEG = 1;
const MANY = 10;
const REST_MS = 450;

/** With Shift, a turn goes by this much. */
const EVEN_DEG = 15;

/** @type {Record<string, [number, number]>} */
const ARROWS = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };

/**
 * Take hold of stickers under a pointer.
 *
 * @param {Here} here
 * @param {Sheet} sheet
 * @param {string} name
 * @param {Contact} contact
 * @returns {Stroke | null}
 */
export function moveStickers(here, sheet, name, contact) {
  if (!sheet.taken.has(name)) {
    here.slips.close();
    sheet.take([name]);
  }
  const names = placeable(here, [...sheet.taken]);
  if (names.length === 0) return refuseCopies(here);
  const moving = new Moving(here, sheet, names);
  return {
    move: ({ x_mm, y_mm }) =>
      moving.to((pose) => ({ ...pose, x: pose.x + x_mm - contact.x_mm, y: pose.y + y_mm - contact.y_mm })),
    end: () => moving.end("Place"),
    cancel: () => moving.cancel(),
  };
}

/**
 * Turn a sticker by the grip of its ring.
 *
 * @param {Here} here
 * @param {Sheet} sheet
 * @param {Contact} contact
 * @returns {Stroke | null}
 */
export function turnSticker(here, sheet, contact) {
  const name = sheet.ring.sticker?.name;
  if (!name) return null;
  const centre = sheet.poseOf(name);
  const angle = (/** @type {Contact} */ { x_mm, y_mm }) =>
    (Math.atan2(y_mm - centre.y, x_mm - centre.x) * 180) / Math.PI;
  const first = angle(contact);
  const moving = new Moving(here, sheet, [name]);
  return {
    move: (now) => {
      const by = angle(now) - first;
      const step = now.shift ? EVEN_DEG : STEP_DEG / 2;
      moving.to((pose) => ({ ...pose, turn: Math.round((pose.turn + by) / step) * step }));
    },
    end: () => moving.end("Turn"),
    cancel: () => moving.cancel(),
  };
}

/**
 * Those that can be placed by hand.
 *
 * @param {Here} here
 * @param {string[]} names
 */
const placeable = (here, names) =>
  names.filter((name) => canBePlaced(tableOf(here.desk.state.document, name)));

/** @param {Here} here */
function refuseCopies(here) {
  here.hint("Copies lie where limner puts them: give it one copy, and others a name of their own.");
  return null;
}

/** @param {KeyboardEvent} event */
const arrowOf = ({ key, ctrlKey, metaKey, altKey }) => (ctrlKey || metaKey || altKey ? null : ARROWS[key]);

/** Moves and turns by arrow keys: one decision for as many as follow each other. */
export class KeyMoves {
  /**
   * @param {Here} here
   * @param {Sheet} sheet
   */
  constructor(here, sheet) {
    this.here = here;
    this.sheet = sheet;
    /** @type {{moving: Moving, what: string, x: number, y: number, turn: number} | null} */
    this.now = null;
    this.timer = 0;
  }

  /**
   * @param {KeyboardEvent} event
   * @returns {boolean} whether the key was one of these
   */
  keyed(event) {
    if (event.key === "Escape" && this.now) return this.cancel(this.now.moving);
    const arrow = arrowOf(event);
    const { target } = event;
    if (!arrow || !(target instanceof Element)) return false;
    const turns = target.closest("[data-grip]") !== null;
    const name = turns ? this.sheet.ring.sticker?.name : this.sheet.stickerAt(target);
    if (!name) return false;
    this.step(name, turns ? "Turn" : "Place", arrow, event.shiftKey ? MANY : 1);
    return true;
  }

  /**
   * @param {string} name
   * @param {string} what
   * @param {[number, number]} arrow
   * @param {number} steps
   */
  step(name, what, [right, down], steps) {
    if (!this.sheet.taken.has(name)) this.sheet.take([name]);
    const names = what === "Turn" ? [name] : placeable(this.here, [...this.sheet.taken]);
    if (names.length === 0) return void refuseCopies(this.here);
    const now = this.begun(names, what);
    if (what === "Turn") now.turn += (right - down) * steps * STEP_DEG;
    else {
      now.x += right * steps * STEP_MM;
      now.y += down * steps * STEP_MM;
    }
    const { x, y, turn } = now;
    now.moving.to((pose) => ({ ...pose, x: pose.x + x, y: pose.y + y, turn: pose.turn + turn }));
    clearTimeout(this.timer);
    this.timer = setTimeout(() => this.end(), REST_MS);
  }

  /**
   * What is under way, if it is that; a new move otherwise.
   *
   * @param {string[]} names
   * @param {string} what
   */
  begun(names, what) {
    if (this.now?.what !== what || this.now.moving.names.join() !== names.join()) this.end();
    return (this.now ??= { moving: new Moving(this.here, this.sheet, names), what, x: 0, y: 0, turn: 0 });
  }

  /** @param {Moving} moving */
  cancel(moving) {
    clearTimeout(this.timer);
    moving.cancel();
    this.now = null;
    return true;
  }

  /** The keys are let go. */
  end() {
    clearTimeout(this.timer);
    const now = this.now;
    this.now = null;
    now?.moving.end(now.what);
  }
}
