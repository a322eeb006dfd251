/** Edits of the job applied to the page's copy of it, so that what was decided is shown before it is confirmed. */

/** @import { Edit, Table } from "../contract.js" */

/**
 * A copy of the job with edits made; an edit that leads nowhere is left to the server to refuse.
 *
 * @param {Table} document
 * @param {Edit[]} edits
 * @returns {Table}
 */
export function applied(document, edits) {
  const copy = structuredClone(document);
  for (const edit of edits) apply(copy, edit);
  return copy;
}

/**
 * @param {Table} document
 * @param {Edit} edit
 */
function apply(document, { what, where, to, at }) {
  const last = where[where.length - 1];
  const makes = what === "set" || what === "add";
  const holder = where
    .slice(0, -1)
    .reduce((table, key) => step(table, key, makes), /** @type {any} */ (document));
  if (!isTable(holder)) return;
  if (what === "set") holder[last] = to;
  else if (what === "add") insert((holder[last] ??= []), to, at);
  else take(holder, last);
}

/**
 * @param {unknown[]} list
 * @param {unknown} table
 * @param {number} [at] left out: at the end
 */
function insert(list, table, at = list.length) {
  list.splice(at, 0, table);
}

/**
 * @param {any} holder
 * @param {string | number} key
 */
function take(holder, key) {
  if (!Array.isArray(holder)) return void delete holder[key];
  const index = typeof key === "number" ? key : holder.findIndex((table) => table.name === key);
  if (index >= 0) holder.splice(index, 1);
}

/**
 * @param {any} table
 * @param {string | number} key
 * @param {boolean} makes whether a table that is missing is made
 */
function step(table, key, makes) {
  if (!isTable(table)) return null;
  if (Array.isArray(table))
    return typeof key === "string" ? table.find((one) => one.name === key) : table[key];
  if (makes) table[key] ??= {};
  return table[key];
}

/**
 * @param {unknown} value
 * @returns {boolean}
 */
const isTable = (value) => value !== null && typeof value === "object";
