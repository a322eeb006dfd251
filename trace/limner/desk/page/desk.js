/**
 * What the page knows of the job, and the one way in which it decides.
 *
 * Events: "state" (the job is another one), "decided" (it will be, once the server has saved it), "sticker" (a drawing is; detail: its name), "works" (what the desk
 * is doing), "refused" (detail: the sentence), "progress" and "written" (detail: as the server said it).
 */

import { applied } from "./edits/apply.js";
import { refused } from "./marks.js";
import { follow, getState, postDemo, postEdits, postHistory, postSketch, Refused } from "./server.js";

/** @import { DeskEvent, Edit, State, Sticker, StickerEvent, Table } from "./contract.js" */

/** @typedef {{edits: Edit[], on: number | null}} Pending and the revision that it was made on, once it is sent */

export class Desk extends EventTarget {
  /** @param {State} state */
  constructor(state) {
    super();
    /** @type {State} */
    this.state = state;
    this.alive = true;
    /** @type {Set<string>} */
    this.works = new Set();
    /** @type {StickerEvent[]} */
    this.heard = [];
    /** Decisions that are on their way. @type {Pending[]} */
    this.pending = [];
    /** @type {Promise<unknown>} */
    this.turn = Promise.resolve();
  }

  /** Follow the server from now on. */
  follow() {
    follow(
      (event) => void this.happened(event),
      (alive) => {
        const again = alive && !this.alive;
        this.alive = alive;
        this.tell("works");
        if (again) void this.refresh();
      },
    );
  }

  /**
   * Make one decision; those before it are finished first.
   *
   * @param {string} words what undo calls it: "Colour of shell"
   * @param {Edit[]} edits
   * @returns {Promise<boolean>} whether it is saved
   */
  decide(words, edits) {
    /** @type {Pending} */
    const mine = { edits, on: null };
    this.pending.push(mine);
    this.state = { ...this.state, document: applied(this.state.document, edits) };
    this.tell("decided");
    return this.inTurn("Saving", (revision) => {
      mine.on = revision;
      return postEdits(revision, words, edits).finally(() =>
        this.pending.splice(this.pending.indexOf(mine), 1),
      );
    });
  }

  /**
   * Take a decision back, or make it again.
   *
   * @param {"undo" | "redo"} which
   * @returns {Promise<boolean>}
   */
  history(which) {
    return this.inTurn("Saving", (revision) => postHistory(which, revision));
  }

  /**
   * Lay the tide-pool sheet on an empty desk.
   *
   * @returns {Promise<boolean>}
   */
  layDemo() {
    return this.inTurn("Laying out the tide-pool sheet", postDemo);
  }

  /**
   * Bring a photograph to the desk; decisions before it are finished first.
   *
   * @param {Blob} picture
   * @param {string} file its name
   * @returns {Promise<string>} the name of the new sticker
   */
  bring(picture, file) {
    const mine = this.turn.then(() =>
      this.working(`Bringing ${file}`, async () => {
        try {
          return (await postSketch(picture, file)).name;
        } finally {
          await this.refresh();
        }
      }),
    );
    this.turn = mine.catch(() => undefined);
    return mine;
  }

  /**
   * While something is done, the foot of the paper says so.
   *
   * @template T
   * @param {string} words
   * @param {() => Promise<T>} act
   * @returns {Promise<T>}
   */
  async working(words, act) {
    this.works.add(words);
    this.tell("works");
    try {
      return await act();
    } finally {
      this.works.delete(words);
      this.tell("works");
    }
  }

  /** Read the job again and tell everyone. */
  async refresh() {
    const heard = this.heard.length;
    try {
      const state = await getState();
      if (state.revision < this.state.revision) return;
      this.state = { ...state, document: this.withPending(state) };
      // What was heard while the answer was on its way may be newer than the answer.
      for (const event of this.heard.slice(heard)) this.stickerChanged(event);
      this.tell("state");
    } catch (error) {
      this.refuse(error);
    }
  }

  /**
   * The job with what was decided here and is not in it yet.
   *
   * @param {State} state
   */
  withPending({ revision, document }) {
    const ahead = this.pending.filter(({ on }) => on === null || on >= revision);
    return ahead.reduce((job, { edits }) => applied(job, edits), document);
  }

  /**
   * @param {string} name
   * @returns {Sticker | undefined}
   */
  sticker(name) {
    return this.state.stickers.find((sticker) => sticker.name === name);
  }

  /**
   * A sticker's table in the job file, as written.
   *
   * @param {string} name
   * @returns {Table}
   */
  table(name) {
    const tables = /** @type {Table[]} */ (this.state.document.sticker ?? []);
    return tables.find((table) => table.name === name) ?? {};
  }

  /**
   * Say what could not be done, where it was tried.
   *
   * @param {unknown} error
   */
  refuse(error) {
    if (!(error instanceof Refused)) throw error;
    refused();
    this.tell("refused", error.message);
  }

  /**
   * @param {string} name
   * @param {unknown} [detail]
   */
  tell(name, detail) {
    this.dispatchEvent(new CustomEvent(name, { detail }));
  }

  /**
   * @param {string} words
   * @param {(revision: number) => Promise<number>} act
   * @returns {Promise<boolean>}
   */
  inTurn(words, act) {
    const mine = this.turn.then(() => this.working(words, () => this.attempt(act)));
    this.turn = mine;
    return mine;
  }

  /**
   * @param {(revision: number) => Promise<number>} act
   * @returns {Promise<boolean>}
   */
  async attempt(act) {
    try {
      const revision = await act(this.state.revision);
      this.state = { ...this.state, revision };
      await this.refresh();
      return true;
    } catch (error) {
      await this.refresh();
      this.refuse(error);
      return false;
    }
  }

  /** @param {DeskEvent} event */
  async happened(event) {
    if (event.kind === "state" && event.revision !== this.state.revision) await this.refresh();
    else if (event.kind === "sticker") {
      this.heard.push(event);
      this.stickerChanged(event);
    }
    if (event.kind === "progress" || event.kind === "written") this.tell(event.kind, event);
  }

  /** @param {StickerEvent} event */
  stickerChanged({ name, state, token, sentence }) {
    const stickers = this.state.stickers.map((sticker) =>
      sticker.name === name ? { ...sticker, state, token, sentence } : sticker,
    );
    this.state = { ...this.state, stickers };
    this.tell("sticker", name);
    this.tell("works");
  }
}
