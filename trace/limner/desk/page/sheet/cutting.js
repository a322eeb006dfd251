/** A cut line while its numbers are dragged, and once they are decided: one question at a time, the newest counts. */

import { assign } from "../dom.js";
import { shown } from "../marks.js";
import { postTryCut } from "../server.js";

/** @import { Edit } from "../contract.js" */
/** @import { Here } from "../here.js" */
/** @import { Sheet } from "./sheet.js" */

export class Cutting {
  /**
   * @param {Here} here
   * @param {Sheet} sheet
   * @param {string} name of the sticker on the sheet
   * @param {string} table its name in the job
   */
  constructor(here, sheet, name, table) {
    this.here = here;
    this.sheet = sheet;
    this.name = name;
    this.table = table;
    this.serial = 0;
    this.asking = false;
    /** @type {Edit[] | null} */
    this.next = null;
  }

  /**
   * Show the cut line as it would be.
   *
   * @param {Edit[]} edits none: as it is now
   */
  async attempt(edits) {
    this.next = edits;
    if (this.asking) return;
    this.asking = true;
    while (this.next) {
      const asked = this.next;
      this.next = null;
      await this.ask(asked);
    }
    this.asking = false;
  }

  /** @param {Edit[]} edits */
  async ask(edits) {
    const before = this.sheet.sheet;
    try {
      const d = await postTryCut(this.table, edits, (this.serial += 1));
      // The sheet itself knows better by now.
      if (d === null || this.next || this.sheet.sheet !== before) return;
      this.show(d);
    } catch (error) {
      this.here.desk.refuse(error);
    }
  }

  /** @param {string} d about the centre of the art, not turned */
  show(d) {
    const sticker = this.sheet.shown(this.name);
    const cut = this.sheet.elementOf(this.name)?.querySelector(".cut");
    if (!sticker || !cut) return;
    const transform = `translate(${sticker.x_mm} ${sticker.y_mm}) rotate(${sticker.turn_deg})`;
    assign(cut, { d, transform });
    this.sheet.soft.swell(null, 0, 1);
    shown("cut");
  }
}
