/** Stickers on the sheet: their art as a picture, their cut line in pencil. */

import { svg } from "../dom.js";

/** @import { Sheet, SheetSticker, Table } from "../contract.js" */

/** Art that is shown already: its picture is made once. @type {Map<string, string>} */
const pictures = new Map();

/**
 * @param {SVGGElement} group
 * @param {Sheet} sheet
 */
export function showStickers(group, sheet) {
  const focused = group.contains(document.activeElement)
    ? document.activeElement?.getAttribute("data-sticker")
    : null;
  group.replaceChildren(...sheet.stickers.map(drawn));
  for (const [art, address] of pictures) {
    if (sheet.stickers.some((sticker) => sticker.svg === art)) continue;
    URL.revokeObjectURL(address);
    pictures.delete(art);
  }
  if (focused)
    /** @type {SVGElement | null} */ (
      group.querySelector(`[data-sticker="${CSS.escape(focused)}"]`)
    )?.focus();
}

/**
 * @param {SheetSticker} sticker
 * @returns {SVGElement}
 */
function drawn({ name, x_mm, y_mm, turn_deg, width_mm, height_mm, placed, d_cut, svg: art }) {
  const group = svg("g", {
    "data-sticker": name,
    role: "button",
    tabindex: 0,
    "aria-label": name,
    // Its place is a guess while others still wait for theirs.
    class: placed ? "sticker" : "sticker guessed",
  });
  if (d_cut) group.append(svg("path", { d: d_cut, class: "cut", "data-cut": name }));
  const box = { x: x_mm - width_mm / 2, y: y_mm - height_mm / 2, width: width_mm, height: height_mm };
  const turn = turn_deg ? `rotate(${turn_deg} ${x_mm} ${y_mm})` : null;
  if (art)
    group.append(
      svg("image", { ...box, href: pictureOf(art), transform: turn, preserveAspectRatio: "none" }),
    );
  group.append(svg("rect", { ...box, class: "touchable", transform: turn }));
  return group;
}

/** @param {string} art */
function pictureOf(art) {
  const address = pictures.get(art) ?? URL.createObjectURL(new Blob([art], { type: "image/svg+xml" }));
  pictures.set(art, address);
  return address;
}

/**
 * Lettering, as outlines.
 *
 * @param {SVGGElement} group
 * @param {Table[]} letterings
 */
export function showLettering(group, letterings) {
  const words = letterings.map(({ index, text, d, fill }) =>
    svg("path", { "data-lettering": index, d, fill, role: "img", "aria-label": text }),
  );
  group.replaceChildren(...words);
}
