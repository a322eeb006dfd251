/** What pointers and keys do on the sheet: a touch says what a thing is, a drag moves it, two touches go in. */

import { tableOf } from "../edits/places.js";
import { isInside, outline, pointsOf } from "./outlines.js";
import { besideSheet } from "./beside.js";
import { openFinding } from "./findings.js";
import { moveLettering } from "./lettering.js";
import { KeyMoves, moveStickers, turnSticker } from "./taking.js";

/** @import { Point } from "../contract.js" */
/** @import { Here } from "../here.js" */
/** @import { Actor, Contact } from "../surface/pointers.js" */
/** @import { Sheet } from "./sheet.js" */

/** A touch this near to a cut line is meant for it. */
const BESIDE_CUT_PX = 6;

export class SheetActor {
  /**
   * @param {Here} here
   * @param {Sheet} sheet
   */
  constructor(here, sheet) {
    this.here = here;
    this.sheet = sheet;
    this.keys = new KeyMoves(here, sheet);
    here.surface.addEventListener("keydown", (event) => this.keyed(event));
  }

  /** @returns {Actor} */
  actor() {
    return {
      view: this.sheet.view,
      tap: (contact) => this.tap(contact),
      twice: (contact) => this.twice(contact),
      begin: (contact) => this.begin(contact),
    };
  }

  /** @param {Contact} contact */
  tap(contact) {
    const { sheet } = this;
    if (sheet.placing) return sheet.placing(contact);
    const mark = contact.target.closest("[data-finding]");
    if (mark) return this.tapFinding(mark);
    if (contact.target.closest("[data-grip]")) return;
    const name = sheet.stickerAt(contact.target);
    if (name === null) this.tapPaper(contact);
    else if (contact.shift) this.takeAnother(name, contact);
    else {
      this.here.slips.close();
      // Its cut line is meant only once the sticker is taken: the first touch is for the sticker.
      const kind = this.isOnCut(name, contact) ? "cut" : "sticker";
      sheet.take([name]);
      this.open(kind, name, contact);
    }
  }

  /** @param {Element} mark */
  tapFinding(mark) {
    const number = Number(mark.getAttribute("data-finding"));
    const finding = this.sheet.sheet?.findings.find((one) => one.number === number);
    openFinding(mark, finding, this.here, false);
  }

  /**
   * What is put away by a touch beside it is put away, and no more.
   *
   * @param {Contact} contact
   */
  tapPaper(contact) {
    const { sheet, here } = this;
    const lay = here.slips.now !== null || sheet.taken.size > 0;
    here.slips.close();
    sheet.take([]);
    const lettering = numberOf(contact.target);
    if (lettering !== null) this.open("lettering", lettering, contact);
    else if (contact.target.matches(".page, .bleed") && !lay) this.open("page", null, contact);
  }

  /** @param {Contact} contact */
  twice(contact) {
    const name = this.sheet.stickerAt(contact.target);
    const table = name === null ? null : tableOf(this.here.desk.state.document, name);
    if (table) this.here.go(table.name);
    else this.tap(contact);
  }

  /**
   * One more, or one less, is taken.
   *
   * @param {string} name
   * @param {{x: number, y: number}} place
   */
  takeAnother(name, place) {
    const { sheet } = this;
    const rest = [...sheet.taken].filter((one) => one !== name);
    sheet.take(sheet.taken.has(name) ? rest : [...rest, name]);
    this.here.slips.close();
    if (sheet.taken.size > 1) this.open("several", null, { ...place, name });
    else if (sheet.taken.size === 1) this.here.hint("Touch others with Shift to take them, too.");
  }

  /**
   * @param {string} kind
   * @param {unknown} about
   * @param {{x: number, y: number, keyboard?: boolean, name?: string}} place
   */
  open(kind, about, { x, y, keyboard, name }) {
    const from =
      typeof about === "number"
        ? this.sheet.letters.elementOf(about)
        : this.sheet.elementOf(name ?? `${about}`);
    const place = { x, y, ...besideSheet(this.sheet, from), keyboard, from };
    this.here.slips.open(kind, about, place);
  }

  /**
   * @param {Contact} contact
   */
  begin(contact) {
    const { here, sheet } = this;
    this.keys.end();
    if (sheet.placing) return null;
    if (contact.target.closest("[data-grip]")) return turnSticker(here, sheet, contact);
    const lettering = numberOf(contact.target);
    if (lettering !== null) return moveLettering(here, sheet, lettering, contact);
    const name = sheet.stickerAt(contact.target);
    return name === null ? null : moveStickers(here, sheet, name, contact);
  }

  /**
   * Whether a touch is meant for the cut line rather than for what lies in it.
   *
   * @param {string} name
   * @param {Contact} contact
   */
  isOnCut(name, { x_mm, y_mm }) {
    const sticker = this.sheet.shown(name);
    if (!sticker?.d_cut || !this.sheet.taken.has(name)) return false;
    const pose = this.sheet.poseOf(name);
    // Back to where its cut line is drawn.
    const angle = ((sticker.turn_deg - pose.turn) * Math.PI) / 180;
    const [dx, dy] = [x_mm - pose.x, y_mm - pose.y];
    /** @type {Point} */
    const point = [
      sticker.x_mm + dx * Math.cos(angle) - dy * Math.sin(angle),
      sticker.y_mm + dx * Math.sin(angle) + dy * Math.cos(angle),
    ];
    return isBeside(point, pointsOf(sticker.d_cut), BESIDE_CUT_PX / this.sheet.view.scale);
  }

  /** @param {KeyboardEvent} event */
  keyed(event) {
    const { target } = event;
    if (this.here.sketch || !(target instanceof Element)) return;
    if (this.keys.keyed(event)) return stop(event);
    const name = this.sheet.stickerAt(target);
    const lettering = numberOf(target);
    const { x, y, width, height } = target.getBoundingClientRect();
    const place = { x: x + width / 2, y: y + height / 2, keyboard: true };
    if (event.key !== " " && event.key !== "Enter") return;
    if (name !== null) this.stickerByKey(name, event, place);
    else if (lettering !== null) this.open("lettering", lettering, place);
    else return;
    stop(event);
  }

  /**
   * Enter goes to its sketch, the space bar opens its slip, and with Shift takes it, too.
   *
   * @param {string} name
   * @param {KeyboardEvent} event
   * @param {{x: number, y: number, keyboard: boolean}} place
   */
  stickerByKey(name, event, place) {
    const table = tableOf(this.here.desk.state.document, name);
    if (event.key === "Enter" && table) return this.here.go(table.name);
    if (event.shiftKey) return this.takeAnother(name, place);
    this.sheet.take([name]);
    this.open("sticker", name, place);
  }
}

/**
 * The number of the lettering that an element belongs to.
 *
 * @param {Element} element
 * @returns {number | null}
 */
function numberOf(element) {
  const number = element.closest("[data-lettering]")?.getAttribute("data-lettering");
  return number ? Number(number) : null;
}

/** @param {KeyboardEvent} event */
function stop(event) {
  event.preventDefault();
  event.stopPropagation();
}

/**
 * Whether a point lies within a distance of a closed line.
 *
 * @param {Point} point
 * @param {Point[]} points
 * @param {number} within
 */
function isBeside([x, y], points, within) {
  const line = outline(points);
  const around = [0, 1, 2, 3, 4, 5, 6, 7].map((eighth) => {
    const angle = (eighth * Math.PI) / 4;
    return isInside([x + within * Math.cos(angle), y + within * Math.sin(angle)], line);
  });
  return around.some((inside) => inside !== around[0]);
}
