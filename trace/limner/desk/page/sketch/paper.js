/** Where paper and photograph lie, and the photograph before anything is traced. */

import { photographOf } from "../server.js";

/** @import { Box, Drawing, Point } from "../contract.js" */

/** Until a drawing says how wide the page is, its photograph is taken to be as wide as this. */
const UNKNOWN_WIDTH_MM = 100;

/**
 * @param {SVGElement} element
 * @param {Box} box
 */
export function showBox(element, { x_mm, y_mm, width_mm, height_mm }) {
  for (const [name, value] of Object.entries({ x: x_mm, y: y_mm, width: width_mm, height: height_mm })) {
    element.setAttribute(name, String(value));
  }
}

/**
 * A place of a drawing as fractions of the photographed page: what stays true when the drawing becomes another one,
 * whose size and corner may be others.
 *
 * @param {Drawing} drawing
 * @param {number} x_mm
 * @param {number} y_mm
 * @returns {Point}
 */
export const toPage = ({ page }, x_mm, y_mm) => [
  (x_mm - page.x_mm) / page.width_mm,
  (y_mm - page.y_mm) / page.height_mm,
];

/**
 * @param {Drawing} drawing
 * @param {Point} place fractions of the page
 * @returns {Point} millimetres of the drawing
 */
export const fromPage = ({ page }, [fx, fy]) => [
  page.x_mm + fx * page.width_mm,
  page.y_mm + fy * page.height_mm,
];

/**
 * The paper: the drawing's own page and the photographed one.
 *
 * @param {Drawing} drawing
 * @returns {Box}
 */
export function paperOf({ width_mm, height_mm, page }) {
  const x_mm = Math.min(0, page.x_mm);
  const y_mm = Math.min(0, page.y_mm);
  const right = Math.max(width_mm, page.x_mm + page.width_mm);
  const foot = Math.max(height_mm, page.y_mm + page.height_mm);
  return { x_mm, y_mm, width_mm: right - x_mm, height_mm: foot - y_mm };
}

/**
 * Put a sketch's photograph into its place once it can be shown without a pause; before anything is traced it is
 * shown as it was taken.
 *
 * @param {SVGImageElement} image
 * @param {string} name of the sticker
 * @param {string} token names the page as it was laid flat
 * @returns {Promise<Box | null>} its extent while nothing better is known; null: there is nothing new to be shown
 */
export async function showPhotograph(image, name, token) {
  const address = photographOf(name, token);
  if (image.dataset.wanted === address) return null;
  image.dataset.wanted = address;
  const picture = new Image();
  picture.src = address;
  try {
    await picture.decode();
  } catch {
    return null;
  }
  if (image.dataset.wanted !== address) return null;
  image.setAttribute("href", address);
  performance.mark("photograph shown");
  const height_mm = (UNKNOWN_WIDTH_MM * picture.naturalHeight) / picture.naturalWidth;
  return { x_mm: 0, y_mm: 0, width_mm: UNKNOWN_WIDTH_MM, height_mm };
}
