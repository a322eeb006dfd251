/** The sheet lies on the desk at true proportions, its stickers on it; sketches without a place wait below it. */

import { assign, html, svg } from "../dom.js";
import { usable } from "../marks.js";
import { getSheet } from "../server.js";
import { showNotes } from "../sketch/notes.js";
import { View } from "../surface/view.js";
import { emptyDesk } from "./empty.js";
import { showFindings } from "./findings.js";
import { showLettering, showStickers } from "./stickers.js";
import { showWaiting } from "./waiting.js";

/** @import { Sheet as SheetValue } from "../contract.js" */
/** @typedef {{width_mm: number, height_mm: number, background?: string | null}} PageSize */
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
    this.page = svg("rect", { class: "page" });
    this.stickers = svg("g", { role: "group", "aria-label": "Stickers" });
    this.lettering = svg("g", {});
    this.findings = svg("g", { role: "group", "aria-label": "To be mended" });
    this.world = svg("g", {}, this.page, this.stickers, this.lettering, this.findings);
    this.waiting = html("div", { class: "waiting", role: "group", "aria-label": "Waiting sketches" });
    this.notes = html("div", { class: "notes", role: "group", "aria-live": "polite", "aria-label": "Notes" });
    this.empty = emptyDesk(here);
    this.container = container;
    this.view = new View(() => {
      this.world.setAttribute("transform", this.view.transform);
      this.findings.style.setProperty("--px", `${1 / this.view.scale}px`);
      this.here.slips.place();
    });
    /** The size that the eye was fitted to. */
    this.fitted = "";
    this.asks = false;
    this.asking = false;
    /** The sticker that has the focus once it is shown. @type {string | null} */
    this.wanted = null;
  }

  /** @param {string | null} left the sketch that was left for the sheet */
  open(left) {
    this.wanted = left;
    this.here.surface.append(this.world);
    this.here.surface.setAttribute("aria-label", `Sheet ${this.here.desk.state.name}`);
    this.container.append(this.notes, this.empty, this.waiting);
    const { sheet } = this.here.desk.state;
    if (!this.sheet && sheet?.width_mm && sheet.height_mm) this.showPage(/** @type {PageSize} */ (sheet));
    void this.follow();
    this.focus();
    usable();
  }

  focus() {
    if (this.wanted === null) return;
    const sticker = this.elementOf(this.wanted);
    if (!sticker) return;
    sticker.focus({ preventScroll: true });
    this.wanted = null;
  }

  /**
   * @param {string} name
   * @returns {SVGElement | HTMLElement | null} a sticker on the sheet, or the print of a sketch that waits
   */
  elementOf(name) {
    const selector = `[data-sticker="${CSS.escape(name)}"]`;
    return this.world.querySelector(selector) ?? this.waiting.querySelector(selector);
  }

  /**
   * @param {string} name
   * @returns {DOMRect | null} where it lies on the screen
   */
  placeOf(name) {
    return this.elementOf(name)?.getBoundingClientRect() ?? null;
  }

  close() {
    this.world.remove();
    this.notes.remove();
    this.empty.remove();
    this.waiting.remove();
  }

  /** Fetch the sheet as it is now. One question at a time: what changes meanwhile is asked for after it. */
  async follow() {
    this.say();
    this.asks = true;
    if (this.asking) return;
    this.asking = true;
    await this.here.desk.working("Laying out the sheet", () => this.ask());
    this.asking = false;
  }

  async ask() {
    while (this.asks && this.world.isConnected) {
      this.asks = false;
      try {
        this.show(await getSheet());
      } catch (error) {
        if (!this.asks) this.here.desk.refuse(error);
      }
    }
  }

  /** What is known without the sheet: what waits, what is amiss with the job, and whether there is anything. */
  say() {
    const { stickers, problems } = this.here.desk.state;
    const height = this.waiting.offsetHeight;
    showWaiting(this.waiting, this.here, this.sheet);
    if (this.waiting.offsetHeight !== height && !this.view.isMoved) this.fit();
    showNotes(this.notes, [
      ...problems.map(({ sentence, line }) => (line === null ? sentence : `Line ${line}: ${sentence}`)),
      ...(this.sheet?.sentence ? [this.sheet.sentence] : []),
    ]);
    this.empty.hidden = stickers.length > 0 || problems.length > 0;
  }

  /** @param {SheetValue} sheet */
  show(sheet) {
    this.sheet = sheet;
    this.showPage(sheet.page);
    showStickers(this.stickers, sheet);
    showLettering(this.lettering, sheet.lettering);
    showFindings(this.findings, sheet.findings, this.here);
    this.here.slips.refresh();
    this.say();
    this.focus();
  }

  /**
   * The bare sheet.
   *
   * @param {PageSize} page
   */
  showPage({ width_mm, height_mm, background }) {
    const size = { x: 0, y: 0, width: width_mm, height: height_mm };
    assign(this.page, size);
    this.page.style.fill = background ?? "";
    const key = `${width_mm} ${height_mm}`;
    if (this.fitted !== key) this.fit();
    this.fitted = key;
  }

  fit() {
    const { clientWidth, clientHeight } = this.here.surface;
    const below = 84 + (this.waiting.childElementCount > 0 ? this.waiting.offsetHeight : 0);
    const { width, height } = this.page.getBBox();
    if (width === 0) return;
    const box = { x_mm: 0, y_mm: 0, width_mm: width, height_mm: height };
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
