/**
 * A number that is dragged over, moved by arrow keys, or typed with a unit. While it changes, `attempt` shows
 * what would be; when it is let go, `save` makes the decision.
 */

import { html } from "../dom.js";
import { jobNumber, readNumber, sayNumber } from "../edits/lengths.js";
import { row } from "./fields.js";

/** @import { Typed } from "../edits/lengths.js" */

/**
 * @typedef {object} NumberOptions
 * @property {string} unit of a bare number: "mm", "°", "%" or "" for a plain one
 * @property {number} step of an arrow key, in that unit; with Shift ten of them
 * @property {number} least
 * @property {number} most
 * @property {(value: string | number) => void} attempt show it while it changes
 * @property {(value: string | number | null) => void} save null: it is to be limner's own choice again
 */

/** So far the pointer goes for one step. */
const STEP_PX = 6;

/** A drag begins after this much; less is a touch, and begins to type. */
const DRAG_PX = 3;

/** Arrow keys are let go once none was pressed for this long. */
const REST_MS = 450;

/**
 * @param {string} label
 * @param {NumberOptions} options
 * @returns {{element: HTMLElement, show: (typed: Typed, own: boolean) => void}}
 */
export function numberField(label, options) {
  const input = html("input", {
    type: "text",
    inputmode: "decimal",
    role: "spinbutton",
    autocomplete: "off",
    class: "number",
    "aria-valuemin": options.least,
    "aria-valuemax": options.most,
  });
  const field = new NumberField(input, options);
  return { element: row(label, input), show: (typed, own) => field.show(typed, own) };
}

class NumberField {
  /**
   * @param {HTMLInputElement} input
   * @param {NumberOptions} options
   */
  constructor(input, options) {
    this.input = input;
    this.options = options;
    /** @type {Typed} */
    this.saved = { value: 0, unit: options.unit };
    this.own = false;
    /** @type {Typed | null} what is shown while it changes */
    this.trying = null;
    this.rest = 0;
    input.addEventListener("keydown", (event) => this.keyed(event));
    input.addEventListener("change", () => this.typed());
    input.addEventListener("blur", () => this.letGo());
    input.addEventListener("pointerdown", (event) => this.pressed(event));
  }

  /**
   * @param {Typed} typed
   * @param {boolean} own whether the job says so, or limner chose it
   */
  show(typed, own) {
    const typing = document.activeElement === this.input && this.input.value !== sayNumber(this.saved);
    if (typing || this.trying) return;
    this.saved = typed;
    this.own = own;
    this.write(typed);
    this.input.classList.toggle("found", !own);
  }

  /** @param {Typed} typed */
  write(typed) {
    const text = sayNumber(typed);
    this.input.value = text;
    this.input.setAttribute("aria-valuenow", String(typed.value));
    this.input.setAttribute("aria-valuetext", text);
  }

  /**
   * @param {Typed} from
   * @param {number} steps
   */
  attempt(from, steps) {
    const { least, most, step } = this.options;
    const value = Math.min(most, Math.max(least, Math.round(from.value / step + steps) * step));
    const typed = { value: Number(value.toFixed(3)), unit: from.unit };
    if (typed.value === (this.trying ?? this.saved).value) return;
    this.trying = typed;
    this.write(typed);
    this.options.attempt(jobNumber(typed, this.options.unit));
  }

  letGo() {
    clearTimeout(this.rest);
    const typed = this.trying;
    this.trying = null;
    if (!typed || typed.value === this.saved.value) return;
    this.keep(typed);
  }

  /** @param {Typed} typed */
  keep(typed) {
    this.saved = typed;
    this.write(typed);
    this.options.save(jobNumber(typed, this.options.unit));
  }

  /** Something was typed and is to count. */
  typed() {
    const text = this.input.value;
    if (this.trying || text === sayNumber(this.saved)) return;
    if (text.trim() === "") {
      if (this.own) this.options.save(null);
      else this.write(this.saved);
      return;
    }
    const typed = readNumber(text);
    if (typed) this.keep({ ...typed, unit: typed.unit || this.options.unit });
    else this.write(this.saved);
  }

  /** @param {KeyboardEvent} event */
  keyed(event) {
    const steps = { ArrowUp: 1, ArrowDown: -1, PageUp: 10, PageDown: -10 }[event.key];
    if (steps !== undefined) {
      event.preventDefault();
      this.attempt(
        this.trying ?? readNumberOr(this.input.value, this.saved),
        steps * (event.shiftKey ? 10 : 1),
      );
      clearTimeout(this.rest);
      this.rest = setTimeout(() => this.letGo(), REST_MS);
    } else if (event.key === "Enter") {
      this.letGo();
      this.typed();
    } else if (event.key === "Escape" && (this.trying || this.input.value !== sayNumber(this.saved))) {
      event.stopPropagation();
      clearTimeout(this.rest);
      const tried = this.trying !== null;
      this.trying = null;
      this.write(this.saved);
      if (tried) this.options.attempt(jobNumber(this.saved, this.options.unit));
    }
  }

  /** @param {PointerEvent} down */
  pressed(down) {
    if (document.activeElement === this.input || down.button !== 0) return;
    down.preventDefault();
    const from = this.saved;
    let dragged = false;
    const move = (/** @type {PointerEvent} */ event) => {
      const far = event.clientX - down.clientX;
      dragged ||= Math.abs(far) > DRAG_PX;
      if (dragged) this.attempt(from, Math.trunc(far / STEP_PX));
    };
    const up = () => {
      this.input.removeEventListener("pointermove", move);
      this.input.removeEventListener("pointerup", up);
      this.input.removeEventListener("pointercancel", up);
      if (dragged) return this.letGo();
      this.input.focus();
      this.input.select();
    };
    this.input.setPointerCapture(down.pointerId);
    this.input.addEventListener("pointermove", move);
    this.input.addEventListener("pointerup", up);
    this.input.addEventListener("pointercancel", up);
  }
}

/**
 * @param {string} text
 * @param {Typed} saved
 * @returns {Typed}
 */
function readNumberOr(text, saved) {
  const typed = readNumber(text);
  return typed ? { value: typed.value, unit: typed.unit || saved.unit } : saved;
}
