/** Decisions on areas as edits of the job: pure functions of what is there. */

/** @import { Edit, Shape, Table } from "../contract.js" */

/**
 * @typedef {object} Areas
 * @property {string} sticker
 * @property {Table[]} rules the sticker's tables of areas, as written
 * @property {Shape[]} fills what was drawn of them, bottom to top
 */

/**
 * What the job says of an area; empty where it says nothing.
 *
 * @param {Areas} areas
 * @param {Shape} shape
 * @returns {Table}
 */
export const ruleOf = ({ rules }, shape) => (shape.rule === null ? {} : (rules[shape.rule] ?? {}));

/**
 * Set keys of areas; null takes a key away.
 *
 * @param {Areas} areas
 * @param {Shape[]} shapes
 * @param {Table} keys
 * @returns {Edit[]}
 */
export function changeAreas(areas, shapes, keys) {
  const ruled = new Set(shapes.flatMap((shape) => rulesOf(areas, shape, keys)));
  const bare = shapes.filter((shape) => shape.rule === null);
  return [
    ...[...ruled].flatMap((rule) => changeRule(areas, rule, keys)),
    ...bare.flatMap((shape) => addRule(areas, shape, keys)),
  ];
}

/**
 * The tables that are meant: all of one name where the name is changed, as several tables may join an area.
 *
 * @param {Areas} areas
 * @param {Shape} shape
 * @param {Table} keys
 * @returns {number[]}
 */
function rulesOf({ rules }, shape, keys) {
  if (shape.rule === null) return [];
  const { name } = rules[shape.rule] ?? {};
  if (!("name" in keys) || name === undefined) return [shape.rule];
  return [...rules.keys()].filter((index) => rules[index].name === name);
}

/**
 * @param {Areas} areas
 * @param {number} rule
 * @param {Table} keys
 * @returns {Edit[]}
 */
function changeRule({ sticker, rules }, rule, keys) {
  const given = rules[rule] ?? {};
  return Object.entries(keys)
    .filter(([key, to]) => to !== null || key in given)
    .map(([key, to]) => {
      const where = ["sticker", sticker, "area", rule, key];
      return to === null ? { what: "unset", where } : { what: "set", where, to };
    });
}

/**
 * @param {Areas} areas
 * @param {Shape} shape
 * @param {Table} keys
 * @returns {Edit[]}
 */
function addRule({ sticker }, shape, keys) {
  const { name, ...rest } = Object.fromEntries(Object.entries(keys).filter(([, to]) => to !== null));
  if (shape.at === null || (name === undefined && Object.keys(rest).length === 0)) return [];
  const to = { ...(name === undefined ? {} : { name }), at: shape.at, ...rest };
  return [{ what: "add", where: ["sticker", sticker, "area"], to }];
}

/**
 * The fills with the numbers of the tables that edits add for them, as the server will give them.
 *
 * @param {Areas} areas before the edits
 * @param {Edit[]} edits
 * @returns {Shape[]}
 */
export function withRules({ rules, fills }, edits) {
  const added = edits.filter(
    ({ what, where }) => what === "add" && where[2] === "area" && where.length === 3,
  );
  const ruleAt = new Map(
    added.map(({ to }, index) => [String(/** @type {Table} */ (to).at), rules.length + index]),
  );
  return fills.map((shape) => {
    const rule = shape.rule ?? ruleAt.get(String(shape.at));
    return rule === undefined || shape.at === null ? shape : { ...shape, rule };
  });
}

/**
 * Join areas under the name of the first one.
 *
 * @param {Areas} areas
 * @param {Shape} first
 * @param {Shape[]} others
 * @returns {Edit[]}
 */
export function joinAreas(areas, first, others) {
  const name = ruleOf(areas, first).name ?? first.name;
  const apart = others.filter((other) => other.rule === null || other.rule !== first.rule);
  const own = ruleOf(areas, first).name === undefined ? changeAreas(areas, [first], { name }) : [];
  const theirs = changeAreas(areas, apart, { name, fill: null, smoothing: null, nodes: null, order: null });
  // Tables are added at the end of the list, so that the numbers of those that are changed first still hold.
  return [...own, ...theirs].sort((a, b) => Number(a.what === "add") - Number(b.what === "add"));
}

/**
 * Lay areas above or below another one.
 *
 * @param {Areas} areas
 * @param {Shape[]} shapes
 * @param {Shape} other
 * @param {"above" | "below"} side
 * @returns {Edit[]}
 */
export function layAreas(areas, shapes, other, side) {
  const order = (ruleOf(areas, other).order ?? 0) + (side === "above" ? 1 : -1);
  const moved = shapes.filter((shape) => shape !== other);
  return changeAreas(areas, moved, { order });
}

/**
 * The fills with some of them laid above or below another one, as the server will draw them.
 *
 * @param {Shape[]} fills
 * @param {ReadonlySet<string>} names
 * @param {string} other
 * @param {"above" | "below"} side
 * @returns {Shape[]}
 */
export function laid(fills, names, other, side) {
  const rest = fills.filter((shape) => !names.has(shape.name));
  const place = rest.findIndex((shape) => shape.name === other) + (side === "above" ? 1 : 0);
  return [...rest.slice(0, place), ...fills.filter((shape) => names.has(shape.name)), ...rest.slice(place)];
}
