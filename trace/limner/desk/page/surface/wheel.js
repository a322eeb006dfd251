/** A wheel enlarges; two fingers on a touch pad move the paper, and enlarge where they are spread. */

/** @import { View } from "./view.js" */

/** How much one pixel of wheel enlarges, and one of a spread on a touch pad. */
const WHEEL_PER_PX = 0.0015;
const SPREAD_PER_PX = 0.01;

/** Events closer together than this belong to one gesture. */
const ONE_GESTURE_MS = 250;

/** A notch of a wheel is at least this far; fingers begin with less. */
const NOTCH_PX = 50;

/**
 * @param {Element} surface
 * @param {() => View} view
 */
export function followWheel(surface, view) {
  let last = -Infinity;
  let notched = false;
  surface.addEventListener(
    "wheel",
    (event) => {
      if (!(event instanceof WheelEvent)) return;
      event.preventDefault();
      if (event.timeStamp - last > ONE_GESTURE_MS) notched = isNotch(event);
      last = event.timeStamp;
      if (event.ctrlKey) enlarge(event, view(), SPREAD_PER_PX);
      else if (notched && !event.shiftKey) enlarge(event, view(), WHEEL_PER_PX);
      else if (event.shiftKey && event.deltaX === 0) view().move(-event.deltaY, 0);
      else view().move(-event.deltaX, -event.deltaY);
    },
    { passive: false },
  );
}

/** @param {WheelEvent} event */
const isNotch = (event) =>
  event.deltaMode !== WheelEvent.DOM_DELTA_PIXEL ||
  (event.deltaX === 0 && Math.abs(event.deltaY) >= NOTCH_PX);

/**
 * @param {WheelEvent} event
 * @param {View} view
 * @param {number} perPx
 */
function enlarge(event, view, perPx) {
  // A notch given in lines is about 16 pixels a line.
  const px = event.deltaMode === WheelEvent.DOM_DELTA_PIXEL ? event.deltaY : event.deltaY * 16;
  view.enlarge(Math.exp(-px * perPx), event.clientX, event.clientY);
}
