/**
 * Outlines of cut lines as points, so that the page can see by itself what comes too near to what.
 *
 * Curves are taken apart so finely that a point lies at most about a hundredth of a millimetre beside them.
 */

/** @import { Point } from "../contract.js" */

/** @typedef {{x: number, y: number, turn: number, scale: number}} Pose */
/** @typedef {{points: Point[], box: {left: number, top: number, right: number, bottom: number}}} Outline */

/** So many parts of each curve. */
const PARTS = 8;

const COMMAND = /([MCLZ])([^MCLZ]*)/g;
const NUMBER = /-?(?:\d+\.?\d*|\.\d+)(?:e-?\d+)?/g;

/**
 * The points of a closed path of absolute M, L, C and Z.
 *
 * @param {string} d
 * @returns {Point[]}
 */
export function pointsOf(d) {
  /** @type {Point[]} */
  const points = [];
  for (const [, command, rest] of d.matchAll(COMMAND)) {
    const numbers = (rest.match(NUMBER) ?? []).map(Number);
    const size = command === "C" ? 6 : 2;
    for (let i = 0; i + size <= numbers.length; i += size) {
      if (command === "C") points.push(...curve(points[points.length - 1], numbers.slice(i, i + 6)));
      else points.push([numbers[i], numbers[i + 1]]);
    }
  }
  return points;
}

/**
 * @param {Point} from
 * @param {number[]} controls
 * @returns {Point[]}
 */
function curve([x0, y0], [x1, y1, x2, y2, x3, y3]) {
  return Array.from({ length: PARTS }, (_, part) => {
    const t = (part + 1) / PARTS;
    const u = 1 - t;
    const [a, b, c, e] = [u * u * u, 3 * u * u * t, 3 * u * t * t, t * t * t];
    return [a * x0 + b * x1 + c * x2 + e * x3, a * y0 + b * y1 + c * y2 + e * y3];
  });
}

/**
 * @param {Point[]} points
 * @returns {Outline}
 */
export function outline(points) {
  const box = { left: Infinity, top: Infinity, right: -Infinity, bottom: -Infinity };
  for (const [x, y] of points) {
    if (x < box.left) box.left = x;
    if (x > box.right) box.right = x;
    if (y < box.top) box.top = y;
    if (y > box.bottom) box.bottom = y;
  }
  return { points, box };
}

/**
 * An outline that was drawn at one place, seen at another one.
 *
 * @param {Point[]} points
 * @param {Pose} from
 * @param {Pose} to
 * @returns {Outline}
 */
export function carried(points, from, to) {
  const angle = ((to.turn - from.turn) * Math.PI) / 180;
  const scale = to.scale / from.scale;
  const [cos, sin] = [Math.cos(angle) * scale, Math.sin(angle) * scale];
  return outline(
    points.map(([x, y]) => {
      const [dx, dy] = [x - from.x, y - from.y];
      return [to.x + dx * cos - dy * sin, to.y + dx * sin + dy * cos];
    }),
  );
}

/**
 * Where two outlines are nearest to each other, if that is nearer than `within`; 0 where they cross or one lies
 * inside the other.
 *
 * @param {Outline} one
 * @param {Outline} other
 * @param {number} within
 * @returns {{distance: number, at: Point} | null}
 */
export function nearest(one, other, within) {
  if (apart(one.box, other.box, within)) return null;
  const inside =
    one.points.find((point) => isWithin(point, other.box, 0) && isInside(point, other)) ??
    other.points.find((point) => isWithin(point, one.box, 0) && isInside(point, one));
  if (inside) return { distance: 0, at: inside };
  const found = [shortest(one, other, within), shortest(other, one, within)];
  found.sort((a, b) => a.distance - b.distance);
  return found[0].distance < within ? found[0] : null;
}

/**
 * How far an outline goes beyond a box at most, and where.
 *
 * @param {Outline} one
 * @param {Outline["box"]} box
 * @returns {{distance: number, at: Point} | null}
 */
export function beyond(one, box) {
  /** @type {{distance: number, at: Point} | null} */
  let most = null;
  for (const at of one.points) {
    const distance = Math.max(box.left - at[0], at[0] - box.right, box.top - at[1], at[1] - box.bottom);
    if (distance > (most?.distance ?? 0)) most = { distance, at };
  }
  return most;
}

/**
 * The way from a point of one outline to the other one.
 *
 * @param {Outline} one
 * @param {Outline} other
 * @param {number} within
 * @returns {{distance: number, at: Point}}
 */
function shortest(one, other, within) {
  /** @type {{distance: number, at: Point}} */
  let best = { distance: Infinity, at: [0, 0] };
  const { points } = other;
  for (const point of one.points) {
    if (!isWithin(point, other.box, Math.min(within, best.distance))) continue;
    for (let i = 0, j = points.length - 1; i < points.length; j = i, i += 1) {
      const foot = footOn(point, points[j], points[i]);
      const distance = Math.hypot(point[0] - foot[0], point[1] - foot[1]);
      if (distance < best.distance) {
        best = { distance, at: [(point[0] + foot[0]) / 2, (point[1] + foot[1]) / 2] };
      }
    }
  }
  return best;
}

/**
 * @param {Point} point
 * @param {Point} from
 * @param {Point} to
 * @returns {Point} the nearest point between them
 */
function footOn([x, y], [x0, y0], [x1, y1]) {
  const [dx, dy] = [x1 - x0, y1 - y0];
  const square = dx * dx + dy * dy;
  const share = square === 0 ? 0 : Math.min(1, Math.max(0, ((x - x0) * dx + (y - y0) * dy) / square));
  return [x0 + share * dx, y0 + share * dy];
}

/**
 * @param {Point} point
 * @param {Outline} one
 */
export function isInside([x, y], { points }) {
  let inside = false;
  for (let i = 0, j = points.length - 1; i < points.length; j = i, i += 1) {
    const [[x0, y0], [x1, y1]] = [points[i], points[j]];
    if (y0 > y !== y1 > y && x < ((x1 - x0) * (y - y0)) / (y1 - y0) + x0) inside = !inside;
  }
  return inside;
}

/**
 * @param {Point} point
 * @param {Outline["box"]} box
 * @param {number} grown
 */
const isWithin = ([x, y], { left, top, right, bottom }, grown) =>
  x >= left - grown && x <= right + grown && y >= top - grown && y <= bottom + grown;

/**
 * @param {Outline["box"]} one
 * @param {Outline["box"]} other
 * @param {number} within
 */
const apart = (one, other, within) =>
  one.left - other.right > within ||
  other.left - one.right > within ||
  one.top - other.bottom > within ||
  other.top - one.bottom > within;
