/** Stickers that are being moved, turned or sized: seen at once, decided when they are let go. */

import { placeEdits } from "../edits/places.js";
import { letGo } from "../marks.js";
import { Holds } from "./holds.js";

/** @import { Edit } from "../contract.js" */
/** @import { Here } from "../here.js" */
/** @import { Mark } from "./holds.js" */
/** @import { Pose } from "./outlines.js" */
/** @import { Sheet } from "./sheet.js" */

export class Moving {
  /**
   * @param {Here} here
   * @param {Sheet} sheet
   * @param {string[]} names
   */
  constructor(here, sheet, names) {
    this.here = here;
    this.sheet = sheet;
    this.names = names.filter((name) => sheet.shown(name));
    this.before = new Map(this.names.map((name) => [name, sheet.held.get(name)]));
    this.from = new Map(this.names.map((name) => [name, sheet.poseOf(name)]));
    const { document } = here.desk.state;
    this.holds = sheet.sheet
      ? new Holds(sheet.sheet, document, (name) => sheet.poseOf(name), new Set(names))
      : null;
    /** @type {(pose: Pose, name: string) => Pose} */
    this.change = (pose) => pose;
    this.frame = 0;
    sheet.moving = this;
  }

  /**
   * Show them changed, with the next picture of the screen.
   *
   * @param {(pose: Pose, name: string) => Pose} change of where each was at first
   */
  to(change) {
    this.change = change;
    this.frame ||= requestAnimationFrame(() => this.draw());
  }

  draw() {
    cancelAnimationFrame(this.frame);
    this.frame = 0;
    for (const name of this.names) {
      this.sheet.hold(name, { pose: this.change(this.start(name), name), saved: false });
    }
    this.sheet.showRing();
    const marks = this.holds?.at((name) => this.sheet.poseOf(name)) ?? [];
    this.sheet.soft.show(marks);
    this.sheet.saysSoftly(saidOf(marks));
  }

  /**
   * Where it was at first.
   *
   * @param {string} name
   * @returns {Pose}
   */
  start(name) {
    return this.from.get(name) ?? this.sheet.poseOf(name);
  }

  /** Back to where they were. */
  cancel() {
    this.rest();
    for (const name of this.names) this.sheet.hold(name, this.before.get(name) ?? null);
    this.sheet.soft.clear();
    this.sheet.showRing();
    this.sheet.saysSoftly("");
  }

  rest() {
    cancelAnimationFrame(this.frame);
    this.frame = 0;
    if (this.sheet.moving === this) this.sheet.moving = null;
  }

  /**
   * Let them go: their places are decided.
   *
   * @param {string} what "Place", "Turn"
   */
  end(what) {
    this.draw();
    const { document } = this.here.desk.state;
    const moved = new Map(this.names.map((name) => [name, this.sheet.poseOf(name)]));
    this.keep(`${what} of ${namesOf(this.names)}`, placeEdits(document, this.sheet.seen(), moved));
  }

  /**
   * @param {string} words
   * @param {Edit[]} edits
   */
  keep(words, edits) {
    this.rest();
    if (edits.length === 0) return this.cancel();
    letGo("place");
    const held = this.names.map((name) => ({ name, held: this.sheet.held.get(name) }));
    void this.here.desk.decide(words, edits).then((saved) => {
      for (const one of held) {
        if (!one.held || this.sheet.held.get(one.name) !== one.held) continue;
        if (saved) one.held.saved = true;
        else this.sheet.hold(one.name, null);
      }
      if (saved) void this.sheet.follow();
      this.sheet.showRing();
    });
  }
}

/** @param {Mark[]} marks */
const saidOf = (marks) => [...new Set(marks.map(({ words }) => words))].slice(0, 3).join(" · ");

/**
 * @param {string[]} names
 * @returns {string} "crab", or "3 stickers"
 */
export const namesOf = (names) => (names.length === 1 ? names[0] : `${names.length} stickers`);
