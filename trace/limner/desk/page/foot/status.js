/** What the desk is doing, in a word or two; "Saved" when nothing is left to do. */

/** @import { Desk } from "../desk.js" */

/**
 * @param {Desk} desk
 * @param {string | null} sketch the one that is looked at
 * @returns {string}
 */
export function sayStatus(desk, sketch) {
  if (!desk.alive) return "The desk does not answer";
  const [work] = desk.works;
  if (work) return work;
  const tracing = desk.state.stickers.filter(({ state }) => state === "tracing" || state === "waiting");
  const own = tracing.find(({ name }) => name === sketch);
  if (own) return "Tracing";
  if (tracing.length === 1) return `Tracing ${tracing[0].name}`;
  if (tracing.length > 1) return `Tracing ${tracing.length} sketches`;
  return "Saved";
}
