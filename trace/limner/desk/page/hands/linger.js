/** What a hand has drawn stays to be seen until the drawing shows it, or until it is refused. */

import { kindOf } from "../edits/touches.js";

/** @import { Here } from "../here.js" */

/**
 * Leave the mark of the touch that was just decided.
 *
 * @param {Here} here
 * @param {SVGElement} mark
 */
export function linger(here, mark) {
  const { desk, sketch } = here;
  if (!sketch) return mark.remove();
  const made = () => (desk.table(sketch.name).touch ?? []).filter(kindOf).length;
  const count = made();
  const { signal, abort } = aborter();
  const away = () => {
    abort();
    mark.remove();
  };
  const seen = () => {
    if ((sketch.confirmed?.touches.length ?? 0) >= count || made() < count) away();
  };
  const failed = () => desk.sticker(sketch.name)?.state === "failed" && away();
  sketch.addEventListener("drawing", seen, { signal });
  desk.addEventListener("refused", away, { signal });
  desk.addEventListener("sticker", failed, { signal });
}

function aborter() {
  const controller = new AbortController();
  return { signal: controller.signal, abort: () => controller.abort() };
}
