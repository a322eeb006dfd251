/** A sheet that is made while sketches are still traced lacks some stickers: those are seen as they were. */

/** @import { Sheet, SheetSticker } from "../contract.js" */

/**
 * @param {Sheet | null} before
 * @param {Sheet} now
 * @returns {Sheet} the new sheet, with what is only on its way still at the place where it was seen
 */
export function merged(before, now) {
  if (!before || now.waiting.length === 0) return now;
  const old = new Map(before.stickers.map((sticker) => [sticker.name, sticker]));
  const there = now.stickers.map((sticker) => keptPlace(sticker, old.get(sticker.name)));
  const names = new Set(there.map(({ name }) => name));
  const waiting = new Set(now.waiting);
  const kept = before.stickers.filter(({ name }) => waiting.has(name) && !names.has(name));
  return { ...now, stickers: [...there, ...kept] };
}

/**
 * A guess of the layout does not move what has been seen elsewhere; its new outline is known once all is.
 *
 * @param {SheetSticker} sticker
 * @param {SheetSticker | undefined} old
 */
const keptPlace = (sticker, old) => (old && old.placed && !sticker.placed ? old : sticker);
