/** Numbers as they are typed: with a unit or without one. */

/** Units that the job file reads, and the largest step that still feels like one. */
const NUMBER = /^\s*([+-]?(?:\d+(?:[.,]\d*)?|[.,]\d+))\s*([a-zµ°%]*)\s*$/i;

/**
 * @typedef {{value: number, unit: string}} Typed
 */

/**
 * What was typed, apart as number and unit; null if it is neither.
 *
 * @param {string} text
 * @returns {Typed | null}
 */
export function readNumber(text) {
  const found = NUMBER.exec(text);
  return found ? { value: Number(found[1].replace(",", ".")), unit: found[2] } : null;
}

/**
 * A number as the job has it: lengths as text with their unit, all others as numbers.
 *
 * @param {Typed} typed
 * @param {string} unit the unit that a bare number has; "" for a plain number, "°" for degrees
 * @returns {string | number}
 */
export function jobNumber(typed, unit) {
  if (unit === "" || unit === "°" || unit === "%") return typed.value;
  return `${tidy(typed.value)} ${typed.unit || unit}`;
}

/**
 * A number of the job, apart as number and unit.
 *
 * @param {unknown} value
 * @param {string} unit that of a bare number
 * @returns {Typed | null}
 */
export function ofJob(value, unit) {
  if (typeof value === "number") return { value, unit };
  const typed = typeof value === "string" ? readNumber(value) : null;
  return typed && { value: typed.value, unit: typed.unit || unit };
}

/**
 * A number as it is shown.
 *
 * @param {Typed} typed
 * @returns {string}
 */
export const sayNumber = ({ value, unit }) =>
  unit === "" || unit === "°" || unit === "%" ? `${tidy(value)}${unit}` : `${tidy(value)} ${unit}`;

/** @param {number} value */
const tidy = (value) => String(Number(value.toFixed(3)));
