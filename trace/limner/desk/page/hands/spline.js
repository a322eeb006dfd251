/**
 * A stroke of the hand as few points, and the smooth line through them.
 *
 * The line is the one that limner draws through the points of a touch: a natural cubic spline whose parameter
 * grows with the square root of the distance between points (centripetal; Lee 1989,
 * doi:10.1016/0010-4485(89)90003-1). Points are added where the line is farthest from the stroke, until it is
 * near enough everywhere.
 */

/** @import { Point } from "../contract.js" */

/** More points than this are no hand's intention. */
const MOST_POINTS = 60;

/** Samples of a line between two of its points. */
const SAMPLES = 12;

/**
 * The fewest points, found one after the other, through which a smooth line follows a stroke.
 *
 * @param {Point[]} stroke every place that the pointer told
 * @param {number} tolerance how far the line may be from the stroke
 * @returns {Point[]}
 */
export function fewPoints(stroke, tolerance) {
  const path = stroke.filter(
    ([x, y], i) => i === 0 || Math.hypot(x - stroke[i - 1][0], y - stroke[i - 1][1]) > 1e-9,
  );
  if (path.length < 3) return path;
  const knots = [0, path.length - 1];
  while (knots.length < MOST_POINTS) {
    const worst = farthest(path, knots);
    if (worst.distance <= tolerance) break;
    knots.splice(worst.after + 1, 0, worst.index);
  }
  return knots.map((index) => path[index]);
}

/**
 * Where a stroke is farthest from the smooth line through some of its points.
 *
 * @param {Point[]} path
 * @param {number[]} knots
 */
function farthest(path, knots) {
  const line = smoothLine(knots.map((index) => path[index]));
  const worst = { distance: 0, index: -1, after: -1 };
  for (let after = 0; after + 1 < knots.length; after += 1) {
    const span = line.slice(after * SAMPLES, (after + 1) * SAMPLES + 1);
    for (let index = knots[after] + 1; index < knots[after + 1]; index += 1) {
      const distance = distanceTo(span, path[index]);
      if (distance > worst.distance) Object.assign(worst, { distance, index, after });
    }
  }
  return worst;
}

/**
 * @param {Point[]} line
 * @param {Point} point
 * @returns {number}
 */
export function distanceTo(line, [x, y]) {
  let least = Infinity;
  for (let i = 0; i + 1 < line.length; i += 1) {
    const [x0, y0] = line[i];
    const [dx, dy] = [line[i + 1][0] - x0, line[i + 1][1] - y0];
    const length2 = dx * dx + dy * dy;
    const share = length2 === 0 ? 0 : Math.min(1, Math.max(0, ((x - x0) * dx + (y - y0) * dy) / length2));
    least = Math.min(least, Math.hypot(x - x0 - share * dx, y - y0 - share * dy));
  }
  return least;
}

/**
 * Samples of the smooth line through points: `SAMPLES` for each span, and the last point.
 *
 * @param {Point[]} points no two in a row are one
 * @returns {Point[]}
 */
export function smoothLine(points) {
  if (points.length < 2) return points;
  const gaps = points.slice(1).map(([x, y], i) => Math.sqrt(Math.hypot(x - points[i][0], y - points[i][1])));
  const bends = [0, 1].map((axis) =>
    bendsOf(
      points.map((point) => point[axis]),
      gaps,
    ),
  );
  /** @type {Point[]} */
  const line = [];
  for (const [i, h] of gaps.entries()) {
    for (let k = 0; k < SAMPLES; k += 1) {
      const b = k / SAMPLES;
      const a = 1 - b;
      const bent = (/** @type {0 | 1} */ axis) =>
        a * points[i][axis] +
        b * points[i + 1][axis] +
        (((a ** 3 - a) * bends[axis][i] + (b ** 3 - b) * bends[axis][i + 1]) * h * h) / 6;
      line.push([bent(0), bent(1)]);
    }
  }
  return [...line, points[points.length - 1]];
}

/**
 * Second derivatives at the points of a natural cubic spline (tridiagonal system, solved by elimination).
 *
 * @param {number[]} values
 * @param {number[]} gaps between their parameters
 * @returns {number[]}
 */
function bendsOf(values, gaps) {
  const n = values.length;
  const bends = Array(n).fill(0);
  const upper = Array(n).fill(0);
  for (let i = 1; i + 1 < n; i += 1) {
    const slope = (values[i + 1] - values[i]) / gaps[i] - (values[i] - values[i - 1]) / gaps[i - 1];
    const pivot = 2 * (gaps[i - 1] + gaps[i]) - gaps[i - 1] * upper[i - 1];
    upper[i] = gaps[i] / pivot;
    bends[i] = (6 * slope - gaps[i - 1] * bends[i - 1]) / pivot;
  }
  for (let i = n - 2; i > 0; i -= 1) bends[i] -= upper[i] * bends[i + 1];
  return bends;
}

/**
 * @param {Point[]} points
 * @returns {string} SVG path data
 */
export const pathThrough = (points) => (points.length === 0 ? "" : `M${points.map(rounded).join("L")}`);

/** @param {Point} point */
const rounded = ([x, y]) => `${x.toFixed(3)} ${y.toFixed(3)}`;
