/** The server's door: one function for each thing that can be asked of it. */

/** @import { DeskEvent, Drawing, Edit, Sheet, State } from "./contract.js" */

/** The server said no, in one sentence. */
export class Refused extends Error {
  /**
   * @param {string} sentence
   * @param {number} status
   */
  constructor(sentence, status) {
    super(sentence);
    this.status = status;
  }
}

const GONE = "The desk does not answer: start limner desk again, then go on here.";

/**
 * @param {string} path
 * @param {RequestInit} [options]
 * @returns {Promise<Response>}
 */
async function ask(path, options) {
  /** @type {Response} */
  let response;
  try {
    response = await fetch(path, options);
  } catch {
    throw new Refused(GONE, 0);
  }
  if (response.ok) return response;
  const answer = await response.json().catch(() => ({}));
  throw new Refused(
    answer.sentence ?? `The desk answered ${response.status}: load the page again.`,
    response.status,
  );
}

/**
 * @param {string} path
 * @param {unknown} value
 * @returns {Promise<Response>}
 */
function post(path, value) {
  return ask(path, {
    method: "POST",
    headers: { "Content-Type": "application/json" },
    body: JSON.stringify(value),
  });
}

/** @returns {Promise<State>} */
export const getState = async () => (await ask("/state")).json();

/** @returns {Promise<Sheet>} */
export const getSheet = async () => (await ask("/sheet")).json();

/**
 * The drawing of a sticker; null while it is not there yet.
 *
 * @param {string} name
 * @returns {Promise<Drawing | null>}
 */
export async function getDrawing(name) {
  const response = await ask(`/stickers/${encodeURIComponent(name)}/drawing`);
  return response.status === 200 ? response.json() : null;
}

/**
 * Address of a sticker's straightened photograph.
 *
 * @param {string} name
 * @param {string | null} token changes with the drawing, so that a new page is fetched
 * @param {number} [longest_px] of its longer side; left out: as large as there is use for
 * @returns {string}
 */
export function photographOf(name, token, longest_px) {
  const taken = token === null || token === TAKEN ? brought.get(name) : undefined;
  if (taken) return taken;
  const size = longest_px === undefined ? "" : `longest=${longest_px}&`;
  return `/stickers/${encodeURIComponent(name)}/photograph?${size}token=${encodeURIComponent(token ?? "")}`;
}

/** Names a photograph as it was taken, before anything is traced. */
export const TAKEN = "taken";

/** Photographs that this page brought itself, by the names of their stickers. @type {Map<string, string>} */
const brought = new Map();

/**
 * A photograph need not be fetched until it is laid flat: the page has it.
 *
 * @param {string} name
 * @param {string} address of the file that was brought
 */
export const broughtAs = (name, address) => void brought.set(name, address);

/**
 * Make one decision of several edits, saved whole when this returns.
 *
 * @param {number} revision the state that it was made on
 * @param {string} words what undo calls it
 * @param {Edit[]} edits
 * @returns {Promise<number>} the revision after it
 */
export const postEdits = async (revision, words, edits) =>
  (await (await post("/edits", { revision, words, edits })).json()).revision;

/**
 * Take the last decision back, or make it again.
 *
 * @param {"undo" | "redo"} which
 * @param {number} revision
 * @returns {Promise<number>}
 */
export const postHistory = async (which, revision) =>
  (await (await post(`/${which}`, { revision })).json()).revision;

/**
 * The drawing as it would be; null when a newer question made this one idle.
 *
 * @param {string} sticker
 * @param {Edit[]} edits
 * @param {number} serial
 * @returns {Promise<Drawing | null>}
 */
export async function postTry(sticker, edits, serial) {
  const response = await post("/try", { sticker, edits, serial });
  return response.status === 200 ? response.json() : null;
}

/**
 * The cut line of a sticker as it would be, about the centre of its art and not turned; null when a newer question
 * made this one idle.
 *
 * @param {string} sticker
 * @param {Edit[]} edits
 * @param {number} serial
 * @returns {Promise<string | null>}
 */
export async function postTryCut(sticker, edits, serial) {
  const response = await post("/try", { sticker, edits, serial, of: "cut" });
  return response.status === 200 ? (await response.json()).d : null;
}

/**
 * Bring a photograph to the desk.
 *
 * @param {Blob} picture
 * @param {string} name of the file
 * @returns {Promise<{name: string, revision: number}>}
 */
export const postSketch = async (picture, name) =>
  (
    await ask("/sketches", { method: "POST", headers: { "X-Name": encodeURIComponent(name) }, body: picture })
  ).json();

/**
 * Lay the eight sketches of the tide-pool sheet, with all that is decided about them, on an empty desk.
 *
 * @param {number} revision
 * @returns {Promise<number>} the revision after it
 */
export const postDemo = async (revision) => (await (await post("/demo", { revision })).json()).revision;

/** Begin to write the files; events say how it goes. */
export const postWrite = () => post("/write", {});

/**
 * Follow what happens on the desk, for good.
 *
 * @param {(event: DeskEvent) => void} happened
 * @param {(alive: boolean) => void} connected told when the desk stops answering, and when it does again
 */
export function follow(happened, connected) {
  const source = new EventSource("/events");
  source.onmessage = (message) => happened(JSON.parse(message.data));
  source.onopen = () => connected(true);
  source.onerror = () => {
    connected(false);
    // A server that was started again refuses the old stream for good; a new one may be let in.
    if (source.readyState === EventSource.CLOSED) setTimeout(() => follow(happened, connected), RETRY_MS);
  };
}

const RETRY_MS = 1500;
