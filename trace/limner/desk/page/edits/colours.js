/** Colours of the job as edits: a colour is one thing, wherever it is used. */

/** @import { Edit, Table } from "../contract.js" */

/** @typedef {(string | number)[]} Where */

/**
 * All places that name a colour.
 *
 * @param {Table} document
 * @param {string} name
 * @returns {Where[]}
 */
export function usesOf(document, name) {
  /** @type {Where[]} */
  const found = [];
  const note = (
    /** @type {Table | undefined} */ table,
    /** @type {string} */ key,
    /** @type {Where} */ where,
  ) => {
    if (table?.[key] === name) found.push([...where, key]);
  };
  note(document.sheet, "background", ["sheet"]);
  (document.lettering ?? []).forEach((/** @type {Table} */ one, /** @type {number} */ index) =>
    note(one, "fill", ["lettering", index]),
  );
  for (const sticker of /** @type {Table[]} */ (document.sticker ?? [])) {
    for (const key of ["ink", "base", "ground"]) note(sticker, key, ["sticker", sticker.name]);
    (sticker.area ?? []).forEach((/** @type {Table} */ area, /** @type {number} */ index) => {
      if (isOwn(document, sticker, area)) note(area, "fill", ["sticker", sticker.name, "area", index]);
    });
  }
  return found;
}

/**
 * Areas of a sticker that is like another one are listed with it, too: those change with the other one.
 *
 * @param {Table} document
 * @param {Table} sticker
 * @param {Table} area
 */
function isOwn(document, sticker, area) {
  if (sticker.like === undefined) return true;
  const other = (document.sticker ?? []).find((/** @type {Table} */ { name }) => name === sticker.like);
  return !(other?.area ?? []).some(
    (/** @type {Table} */ one) => JSON.stringify(one) === JSON.stringify(area),
  );
}

/**
 * Give a colour another name, everywhere.
 *
 * @param {Table} document
 * @param {string} from
 * @param {string} to
 * @returns {Edit[]}
 */
export const renameColour = (document, from, to) => [
  { what: "set", where: ["colours", to], to: document.colours?.[from] },
  ...usesOf(document, from).map((where) => ({ what: /** @type {const} */ ("set"), where, to })),
  { what: "unset", where: ["colours", from] },
];

/**
 * A colour as it is written: four inks in percent, or that of the screen.
 *
 * @param {unknown} value of the job
 * @returns {string}
 */
export function sayColour(value) {
  if (typeof value === "string") return value;
  const { cmyk, rgb } = /** @type {Table} */ (value ?? {});
  return Array.isArray(cmyk) ? cmyk.join(" ") : String(rgb ?? "");
}
