/**
 * Mouse, pen and fingers on the surface become taps, strokes and moves of the paper.
 *
 * One pointer that hardly moves is a tap; two taps at one place are "twice"; one that moves is a stroke if the
 * actor takes it, and moves the paper otherwise. A second finger, the space bar and the middle button always
 * move the paper.
 */

/** @import { View } from "./view.js" */

/**
 * @typedef {object} Contact where a pointer is
 * @property {number} x_mm
 * @property {number} y_mm
 * @property {number} x pixels of the screen
 * @property {number} y
 * @property {Element} target what lay under it when it came down
 * @property {string} pointer "mouse", "pen" or "touch"
 * @property {boolean} shift
 * @property {number} [pressure] of a pen, 0 to 1
 *
 * @typedef {object} Stroke a stroke under way
 * @property {(contact: Contact) => void} move
 * @property {(contact: Contact) => void} end
 * @property {() => void} cancel
 *
 * @typedef {object} Actor
 * @property {View} view
 * @property {(contact: Contact) => void} tap
 * @property {(contact: Contact) => void} twice
 * @property {(contact: Contact) => Stroke | null} begin null: the paper moves instead
 * @property {() => void} [moved] the paper was moved by hand
 */

/** A pointer that stays within this is a tap. */
const TAP_PX = { mouse: 3, pen: 5, touch: 9 };

/** Two taps within this time and distance are one "twice". */
const TWICE_MS = 400;
const TWICE_PX = 14;

export class Pointers {
  /**
   * @param {SVGSVGElement} surface
   * @param {() => Actor} actor who acts now
   */
  constructor(surface, actor) {
    this.surface = surface;
    this.actor = actor;
    this.space = false;
    /** @type {Map<number, {x: number, y: number}>} */
    this.down = new Map();
    /** @type {Stroke | null} */
    this.stroke = null;
    /** @type {{x: number, y: number, target: Element, moves: boolean} | null} */
    this.start = null;
    this.lastTap = { at: -Infinity, x: 0, y: 0 };
    surface.addEventListener("pointerdown", (event) => this.pressed(event));
    surface.addEventListener("pointermove", (event) => this.moved(event));
    surface.addEventListener("pointerup", (event) => this.released(event));
    surface.addEventListener("pointercancel", (event) => this.lost(event));
    window.addEventListener("keydown", (event) => this.leave(event), true);
  }

  /** @param {PointerEvent} event */
  pressed(event) {
    if (event.button > 1 || !(event.target instanceof Element)) return;
    this.surface.setPointerCapture(event.pointerId);
    this.down.set(event.pointerId, { x: event.clientX, y: event.clientY });
    if (this.down.size > 1) {
      this.stroke?.cancel();
      this.stroke = null;
      this.start = null;
      return;
    }
    const moves = this.space || event.button === 1;
    if (event.button === 1) event.preventDefault();
    this.start = { x: event.clientX, y: event.clientY, target: event.target, moves };
  }

  /** @param {PointerEvent} event */
  moved(event) {
    const last = this.down.get(event.pointerId);
    if (!last) return;
    if (this.down.size > 1) this.pinched(event, last);
    else if (this.stroke) this.strokeMoved(event);
    else if (this.start && this.isTap(event, this.start)) return;
    else if (this.start) this.begun(event, this.start);
    else this.paperMoved(event, last);
    this.down.set(event.pointerId, { x: event.clientX, y: event.clientY });
  }

  /** @param {PointerEvent} event */
  released(event) {
    this.down.delete(event.pointerId);
    if (this.stroke) this.stroke.end(this.contact(event));
    else if (this.start && !this.start.moves) this.tapped(event);
    this.stroke = null;
    this.start = null;
  }

  /** @param {PointerEvent} event */
  lost(event) {
    this.down.delete(event.pointerId);
    this.stroke?.cancel();
    this.stroke = null;
    this.start = null;
  }

  /** Escape leaves a stroke that is under way. @param {KeyboardEvent} event */
  leave(event) {
    if (event.key !== "Escape" || !this.stroke) return;
    event.preventDefault();
    event.stopPropagation();
    this.stroke.cancel();
    this.stroke = null;
    this.start = null;
    this.down.clear();
  }

  /**
   * @param {PointerEvent} event
   * @param {{x: number, y: number}} start
   */
  isTap(event, start) {
    const kind = /** @type {keyof typeof TAP_PX} */ (
      event.pointerType in TAP_PX ? event.pointerType : "mouse"
    );
    return Math.hypot(event.clientX - start.x, event.clientY - start.y) <= TAP_PX[kind];
  }

  /**
   * @param {PointerEvent} event
   * @param {{x: number, y: number, target: Element, moves: boolean}} start
   */
  begun(event, start) {
    if (!start.moves) this.stroke = this.actor().begin(this.contactAt(event, start.x, start.y));
    if (this.stroke) this.strokeMoved(event);
    else this.paperMoved(event, start);
    this.start = this.stroke ? this.start : null;
  }

  /** @param {PointerEvent} event */
  strokeMoved(event) {
    const between = event.getCoalescedEvents?.() ?? [];
    for (const one of between.length > 0 ? between : [event]) this.stroke?.move(this.contact(one));
  }

  /**
   * @param {PointerEvent} event
   * @param {{x: number, y: number}} last
   */
  paperMoved(event, last) {
    this.actor().view.move(event.clientX - last.x, event.clientY - last.y);
    this.actor().moved?.();
  }

  /**
   * @param {PointerEvent} event
   * @param {{x: number, y: number}} last
   */
  pinched(event, last) {
    const [id] = [...this.down.keys()].filter((other) => other !== event.pointerId);
    const other = /** @type {{x: number, y: number}} */ (this.down.get(id));
    const before = Math.hypot(last.x - other.x, last.y - other.y);
    const now = Math.hypot(event.clientX - other.x, event.clientY - other.y);
    const view = this.actor().view;
    view.move((event.clientX - last.x) / 2, (event.clientY - last.y) / 2);
    if (before > 0 && now > 0) {
      view.enlarge(now / before, (event.clientX + other.x) / 2, (event.clientY + other.y) / 2);
    }
    this.actor().moved?.();
  }

  /** @param {PointerEvent} event */
  tapped(event) {
    const { at, x, y } = this.lastTap;
    const near = Math.hypot(event.clientX - x, event.clientY - y) <= TWICE_PX;
    const twice = near && event.timeStamp - at <= TWICE_MS;
    this.lastTap = { at: twice ? -Infinity : event.timeStamp, x: event.clientX, y: event.clientY };
    if (twice) this.actor().twice(this.contact(event));
    else this.actor().tap(this.contact(event));
  }

  /** @param {PointerEvent} event */
  contact(event) {
    return this.contactAt(event, event.clientX, event.clientY);
  }

  /**
   * @param {PointerEvent} event
   * @param {number} x
   * @param {number} y
   * @returns {Contact}
   */
  contactAt(event, x, y) {
    const [x_mm, y_mm] = this.actor().view.toPaper(x, y);
    const target = this.start?.target ?? this.surface;
    return {
      x_mm,
      y_mm,
      x,
      y,
      target,
      pointer: event.pointerType,
      shift: event.shiftKey,
      pressure: event.pressure,
    };
  }
}
