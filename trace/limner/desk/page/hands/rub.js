/** Rub out what is not meant: a soft round under the pointer shows how wide. */

import { svg } from "../dom.js";
import { pencilDot, pencilStroke } from "./pencil.js";
import { Width } from "./width.js";

/** @import { Here } from "../here.js" */
/** @import { Hand } from "./hands.js" */
/** @import { Tool } from "./pencil.js" */

/** As limner rubs where no width is said. */
const LINE_WIDTHS = 3;

const width = new Width(LINE_WIDTHS, () => round?.setAttribute("r", String(width.of(null) / 2)));

/** @type {Tool} */
const rubber = {
  kind: "rub",
  words: "Rubbed out",
  width_mm: (sketch) => width.of(sketch),
  written: () => width.own_mm,
};

/** The soft round. @type {SVGCircleElement | null} */
let round = null;

/** @type {AbortController | null} */
let following = null;

/** @type {Hand} */
export const rubHand = {
  word: "rub",
  draws: true,
  hint: "Rub out what is not meant",
  take(here) {
    width.lay(here);
    follow(here);
  },
  drop() {
    width.take();
    following?.abort();
    round?.remove();
    round = null;
  },
  tap: (contact, here) => pencilDot(contact, here, rubber),
  begin: (contact, here) => pencilStroke(contact, here, rubber),
};

/** @param {Here} here */
function follow(here) {
  const { sketch, surface } = here;
  if (!sketch) return;
  const circle = svg("circle", { class: "rubber", r: width.of(sketch) / 2, visibility: "hidden" });
  round = circle;
  sketch.trail.append(circle);
  following = new AbortController();
  const { signal } = following;
  const move = (/** @type {PointerEvent} */ event) => {
    const [x_mm, y_mm] = sketch.view.toPaper(event.clientX, event.clientY);
    circle.setAttribute("cx", String(x_mm));
    circle.setAttribute("cy", String(y_mm));
    circle.setAttribute("r", String(width.of(sketch) / 2));
    circle.setAttribute("visibility", "visible");
    sketch.trail.append(circle);
  };
  const hide = () => circle.setAttribute("visibility", "hidden");
  surface.addEventListener("pointermove", move, { signal });
  surface.addEventListener("pointerdown", move, { signal });
  surface.addEventListener("pointerleave", hide, { signal });
}
