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
  const holder = where.slice(0, -1).reduce((table, key) => step(table, key, what), /** @type {any} */ (document));
  if (holder === null || typeof holder !== "object") return;
  if (what === "set") holder[last] = to;
  else if (what === "unset") delete holder[last];
  else if (what === "add") {
    const list = (holder[last] ??= []);
    list.splice(at ?? list.length, 0, to);
  } else if (Array.isArray(holder)) {
    const index = typeof last === "number" ? last : holder.findIndex((table) => table.name === last);
    if (index >= 0) holder.splice(index, 1);
  } else delete holder[last];
}

/**
 * @param {any} table
 * @param {string | number} key
 * @param {Edit["what"]} what
 */
function step(table, key, what) {
  if (table === null || typeof table !== "object") return null;
  if (Array.isArray(table) && typeof key === "string") return table.find((one) => one.name === key) ?? null;
  if (table[key] === undefined && (what === "set" || what === "add") && !Array.isArray(table)) table[key] = {};
  return table[key] ?? null;
}
