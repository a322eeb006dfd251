/**
 * How long the desk takes, as marks that a benchmark reads with `performance.getEntriesByName`.
 *
 * `letGo("smoothing")` is the moment in which a decision is made; `shown()` is called once the picture has
 * changed and measures, in the frame after it, every decision that waited: a measure "smoothing", in ms.
 */

/** @type {Map<string, number>} */
const waiting = new Map();

/** @param {string} kind */
export function letGo(kind) {
  waiting.set(kind, performance.now());
}

/**
 * The picture shows what was decided.
 *
 * @param {...string} kinds those that it shows; none: all
 */
export function shown(...kinds) {
  const done = [...waiting].filter(([kind]) => kinds.length === 0 || kinds.includes(kind));
  if (done.length === 0) return;
  for (const [kind] of done) waiting.delete(kind);
  afterFrame(() => {
    for (const [kind, start] of done) performance.measure(kind, { start, end: performance.now() });
  });
}

/** A decision was refused: nothing is shown that could be measured. */
export function refused() {
  waiting.clear();
}

/** The page can be used: measured from the first byte on, once. */
export function usable() {
  if (performance.getEntriesByName("usable").length > 0) return;
  afterFrame(() => performance.measure("usable", { start: 0, end: performance.now() }));
}

/** @param {() => void} act */
function afterFrame(act) {
  requestAnimationFrame(() => {
    const channel = new MessageChannel();
    channel.port1.onmessage = act;
    channel.port2.postMessage(null);
  });
}
