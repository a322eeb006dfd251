/** Another colour is seen at once: all that has the old one on the screen has the new one. */

/** @import { Colour, Sheet } from "../contract.js" */

/**
 * Colours of the screen that are others now, by what they were.
 *
 * @param {Colour[]} before
 * @param {Colour[]} now
 * @returns {Map<string, string>}
 */
export function changedColours(before, now) {
  const old = new Map(before.map(({ name, screen }) => [name, screen.toLowerCase()]));
  return new Map(
    now.flatMap(({ name, screen }) => {
      const was = old.get(name);
      return was !== undefined && was !== screen.toLowerCase() ? [[was, screen]] : [];
    }),
  );
}

/**
 * @param {Sheet} sheet
 * @param {Map<string, string>} changed
 * @returns {Sheet}
 */
export function recoloured(sheet, changed) {
  const instead = (/** @type {string} */ colour) => changed.get(colour.toLowerCase()) ?? colour;
  const all = new RegExp([...changed.keys()].join("|"), "gi");
  const { background } = sheet.page;
  return {
    ...sheet,
    page: { ...sheet.page, background: background && instead(background) },
    stickers: sheet.stickers.map((one) => ({
      ...one,
      ground: one.ground ? { ...one.ground, fill: instead(one.ground.fill) } : null,
      svg: one.svg?.replace(all, instead) ?? null,
    })),
    lettering: sheet.lettering.map((one) => ({ ...one, fill: instead(one.fill) })),
  };
}
