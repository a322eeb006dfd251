/** Numbers are tried while they are dragged: one question at a time, and always the newest. */

import { postTry } from "../server.js";

/** @import { Drawing, Edit } from "../contract.js" */

let serial = 0;

export class Trying {
  /**
   * @param {string} sticker
   * @param {(drawing: Drawing) => void} show
   * @param {(error: unknown) => void} refuse
   */
  constructor(sticker, show, refuse) {
    this.sticker = sticker;
    this.show = show;
    this.refuse = refuse;
    /** @type {Edit[] | null} */
    this.next = null;
    this.asking = false;
    this.round = 0;
  }

  /** @param {Edit[]} edits */
  ask(edits) {
    this.next = edits;
    if (!this.asking) void this.work(this.round);
  }

  /** What is still to be answered is not shown any more. */
  stop() {
    this.next = null;
    this.round += 1;
    this.asking = false;
  }

  /** @param {number} round */
  async work(round) {
    this.asking = true;
    while (this.next && round === this.round) {
      const edits = this.next;
      this.next = null;
      try {
        const drawing = await postTry(this.sticker, edits, (serial += 1));
        if (drawing && round === this.round) this.show(drawing);
      } catch (error) {
        if (round === this.round) this.refuse(error);
      }
    }
    if (round === this.round) this.asking = false;
  }
}
