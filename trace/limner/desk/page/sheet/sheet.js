/** The sheet lies on the desk at true proportions, its stickers on it; sketches without a place wait below it. */

import { html, svg } from "../dom.js";
import { usable } from "../marks.js";
import { getSheet } from "../server.js";
import { showNotes } from "../sketch/notes.js";
import { View } from "../surface/view.js";
import { emptyDesk } from "./empty.js";
import { showStickers } from "./stickers.js";
import { showWaiting } from "./waiting.js";

/** @import { Sheet as SheetValue } from "../contract.js" */
/** @import { Here } from "../here.js" */

export class Sheet {
  /**
   * @param {Here} here
   * @param {HTMLElement} container
   */
  constructor(here, container) {
    this.here = here;
    /** @type {SheetValue | null} */
    this.sheet = null;
    this.bleed = svg("rect", { class: "bleed" });
    this.page = svg("rect", { class: "page" });
    this.stickers = svg("g", { role: "group", "aria-label": "Stickers" });
    this.world = svg("g", {}, this.page, this.stickers);
    this.waiting = html("div", { class: "waiting", role: "group", "aria-label": "Waiting sketches" });
    this.notes = html("div", { class: "notes", role: "group", "aria-live": "polite", "aria-label": "Notes" });
    this.empty = emptyDesk(here);
    this.container = container;
    this.view = new View(() => this.world.setAttribute("transform", this.view.transform));
    this.asked = 0;
    /** The sticker that has the focus once it is shown. @type {string | null} */
    this.wanted = null;
  }

  /** @param {string | null} left the sketch that was left for the sheet */
  open(left) {
    this.wanted = left;
    this.here.surface.append(this.world);
    this.here.surface.setAttribute("aria-label", `Sheet ${this.here.desk.state.name}`);
    this.container.append(this.notes, this.empty, this.waiting);
    void this.follow();
    this.focus();
  }

  focus() {
    if (this.wanted === null) return;
    const selector = `[data-sticker="${CSS.escape(this.wanted)}"]`;
    const sticker = this.world.querySelector(selector) ?? this.waiting.querySelector(selector);
    if (!(sticker instanceof SVGElement || sticker instanceof HTMLElement)) return;
    sticker.focus({ preventScroll: true });
    this.wanted = null;
  }

  close() {
    this.world.remove();
    this.notes.remove();
    this.empty.remove();
    this.waiting.remove();
  }

  /** Fetch the sheet as it is now; of several answers only the newest counts. */
  async follow() {
    const number = (this.asked += 1);
    this.say();
    try {
      const sheet = await getSheet();
      if (number === this.asked) this.show(sheet);
    } catch (error) {
      if (number === this.asked) this.here.desk.refuse(error);
    }
  }

  /** What is known without the sheet: what waits, what is amiss with the job, and whether there is anything. */
  say() {
    const { stickers, problems } = this.here.desk.state;
    showWaiting(this.waiting, this.here, this.sheet);
    showNotes(this.notes, [
      ...problems.map(({ sentence, line }) => (line === null ? sentence : `Line ${line}: ${sentence}`)),
      ...(this.sheet?.sentence ? [this.sheet.sentence] : []),
    ]);
    this.empty.hidden = stickers.length > 0 || problems.length > 0;
  }

  /** @param {SheetValue} sheet */
  show(sheet) {
    const first = this.sheet === null;
    this.sheet = sheet;
    const { width_mm, height_mm, background } = sheet.page;
    for (const [name, value] of Object.entries({ x: 0, y: 0, width: width_mm, height: height_mm })) {
      this.page.setAttribute(name, String(value));
    }
    this.page.style.fill = background ?? "";
    showStickers(this.stickers, sheet);
    this.say();
    if (first) this.fit();
    this.focus();
    usable();
  }

  fit() {
    if (!this.sheet) return;
    const { clientWidth, clientHeight } = this.here.surface;
    const below = 84 + (this.waiting.childElementCount > 0 ? this.waiting.offsetHeight : 0);
    const { width_mm, height_mm } = this.sheet.page;
    const box = { x_mm: 0, y_mm: 0, width_mm, height_mm };
    this.view.fit(box, { x: 24, y: 24, width: clientWidth - 48, height: clientHeight - below });
  }

  /**
   * The name of the sticker that an element belongs to.
   *
   * @param {Element} element
   * @returns {string | null}
   */
  stickerAt(element) {
    return element.closest("[data-sticker]")?.getAttribute("data-sticker") ?? null;
  }
}
