/** Elements made from plain values: text stays text, and never becomes markup. */

const SVG = "http://www.w3.org/2000/svg";

/** @typedef {Record<string, string | number | boolean | null | undefined>} Attributes */

/**
 * An HTML element.
 *
 * @template {keyof HTMLElementTagNameMap} K
 * @param {K} tag
 * @param {Attributes} [attributes] true stands for an attribute without value; false, null: left out
 * @param {...(Node | string)} children
 * @returns {HTMLElementTagNameMap[K]}
 */
export function html(tag, attributes = {}, ...children) {
  const element = document.createElement(tag);
  assign(element, attributes);
  element.append(...children);
  return element;
}

/**
 * An SVG element.
 *
 * @template {keyof SVGElementTagNameMap} K
 * @param {K} tag
 * @param {Attributes} [attributes]
 * @param {...Node} children
 * @returns {SVGElementTagNameMap[K]}
 */
export function svg(tag, attributes = {}, ...children) {
  const element = /** @type {SVGElementTagNameMap[K]} */ (document.createElementNS(SVG, tag));
  assign(element, attributes);
  element.append(...children);
  return element;
}

/**
 * Set attributes that differ, take away those that are null or false.
 *
 * @param {Element} element
 * @param {Attributes} attributes
 */
export function assign(element, attributes) {
  for (const [name, value] of Object.entries(attributes)) {
    if (value === null || value === undefined || value === false) element.removeAttribute(name);
    else {
      const text = value === true ? "" : String(value);
      if (element.getAttribute(name) !== text) element.setAttribute(name, text);
    }
  }
}

/**
 * The element of the page's frame with this id.
 *
 * @param {string} id
 * @returns {HTMLElement}
 */
export function need(id) {
  const element = document.getElementById(id);
  if (!element) throw new Error(`the page has no #${id}`);
  return element;
}

/**
 * A button that is a word.
 *
 * @param {string} words
 * @param {() => void} act
 * @param {Attributes} [attributes]
 * @returns {HTMLButtonElement}
 */
export function button(words, act, attributes = {}) {
  const element = html("button", { type: "button", ...attributes }, words);
  element.addEventListener("click", act);
  return element;
}

/**
 * Whether keys that are typed there are text.
 *
 * @param {EventTarget | null} target
 * @returns {boolean}
 */
export function takesText(target) {
  return (
    target instanceof HTMLElement && target.matches("input:not([type=radio],[type=range]), textarea, select")
  );
}

/**
 * Whether something is typed there that is not decided yet.
 *
 * @param {EventTarget | null} target
 * @returns {boolean}
 */
export const isTyping = (target) => takesText(target) && target === typed;

/** The field that was typed into last and has not been left or decided since. @type {EventTarget | null} */
let typed = null;
document.addEventListener("input", ({ target }) => (typed = target));
document.addEventListener("change", () => (typed = null));
