/** Several things that are taken together: how far each is moved so that they line up, or lie evenly. */

/** @typedef {{name: string, left: number, top: number, right: number, bottom: number}} Extent */
/** @typedef {Map<string, [number, number]>} Moves by name, in mm right and down */

export const LINES = /** @type {const} */ (["left", "middle", "right", "top", "centre", "bottom"]);

/** @typedef {typeof LINES[number]} Line */

/**
 * Line things up along the outermost edge of them all, or along the middle of all.
 *
 * @param {Extent[]} extents
 * @param {Line} line left, middle, right: one under the other; top, centre, bottom: side by side
 * @returns {Moves}
 */
export function linedUp(extents, line) {
  const upright = line === "left" || line === "middle" || line === "right";
  const [low, high] = /** @type {["left", "right"] | ["top", "bottom"]} */ (
    upright ? ["left", "right"] : ["top", "bottom"]
  );
  const least = Math.min(...extents.map((one) => one[low]));
  const most = Math.max(...extents.map((one) => one[high]));
  const share = line === low ? 0 : line === high ? 1 : 0.5;
  const goal = least + share * (most - least);
  return new Map(
    extents.map((one) => {
      const by = goal - (one[low] + share * (one[high] - one[low]));
      return [one.name, upright ? [by, 0] : [0, by]];
    }),
  );
}

/**
 * Make the gaps between things equal; the first and the last stay.
 *
 * @param {Extent[]} extents
 * @param {"across" | "down"} way
 * @returns {Moves}
 */
export function spaced(extents, way) {
  const [low, high] = /** @type {["left", "right"] | ["top", "bottom"]} */ (
    way === "across" ? ["left", "right"] : ["top", "bottom"]
  );
  const sorted = [...extents].sort(
    (a, b) => a[low] + a[high] - b[low] - b[high] || (a.name < b.name ? -1 : 1),
  );
  const [first, last] = [sorted[0], sorted[sorted.length - 1]];
  const sizes = sorted.reduce((sum, one) => sum + one[high] - one[low], 0);
  const gap = (last[high] - first[low] - sizes) / Math.max(1, sorted.length - 1);
  let next = first[low];
  return new Map(
    sorted.map((one) => {
      const by = next - one[low];
      next += one[high] - one[low] + gap;
      return [one.name, way === "across" ? [by, 0] : [0, by]];
    }),
  );
}
