/** Stickers on the sheet: their art as a picture, their cut line in pencil; lettering as outlines. */

import { assign, svg } from "../dom.js";

/** @import { Sheet, SheetSticker, Table } from "../contract.js" */
/** @import { Pose } from "./outlines.js" */

/** Art that is shown already: its picture is made once. @type {Map<string, string>} */
const pictures = new Map();

/**
 * Show the stickers of a sheet; what is there already stays the same element, so that it keeps the focus, and
 * can be moved meanwhile.
 *
 * @param {SVGGElement} group
 * @param {Sheet} sheet
 * @param {(name: string) => Pose} poseOf
 */
export function showStickers(group, sheet, poseOf) {
  const there = new Map(elementsOf(group).map((element) => [nameOf(element), element]));
  sheet.stickers.forEach((sticker, index) => {
    const element = there.get(sticker.name) ?? made(sticker.name);
    there.delete(sticker.name);
    // An element that is moved in the document loses the focus: those in their order stay untouched.
    if (group.children[index] !== element) group.insertBefore(element, group.children[index] ?? null);
    bring(element, sticker);
    pose(element, sticker, poseOf(sticker.name));
  });
  for (const element of there.values()) element.remove();
  for (const [art, address] of pictures) {
    if (sheet.stickers.some((sticker) => sticker.svg === art)) continue;
    URL.revokeObjectURL(address);
    pictures.delete(art);
  }
}

/** @param {SVGGElement} group */
const elementsOf = (group) => /** @type {SVGGElement[]} */ ([...group.children]);

/** @param {Element} element */
const nameOf = (element) => element.getAttribute("data-sticker") ?? "";

/** @param {string} name */
function made(name) {
  const group = svg("g", {
    "data-sticker": name,
    role: "button",
    tabindex: 0,
    "aria-label": name,
    "aria-haspopup": "dialog",
    "aria-keyshortcuts": "Enter Space ArrowLeft ArrowRight ArrowUp ArrowDown",
  });
  const cut = svg("path", { class: "cut", "data-cut": name });
  group.append(svg("path", { class: "ground" }), cut, svg("rect", { class: "touchable" }));
  return group;
}

/**
 * Bring an element in step with its sticker.
 *
 * @param {SVGGElement} group
 * @param {SheetSticker} sticker
 */
function bring(group, { x_mm, y_mm, turn_deg, width_mm, height_mm, placed, d_cut, ground, svg: art }) {
  group.classList.add("sticker");
  // Its place is a guess while others still wait for theirs.
  group.classList.toggle("guessed", !placed);
  const [under, cut, touchable] = [".ground", ".cut", ".touchable"].map((one) => group.querySelector(one));
  const box = { x: x_mm - width_mm / 2, y: y_mm - height_mm / 2, width: width_mm, height: height_mm };
  const transform = turn_deg ? `rotate(${turn_deg} ${x_mm} ${y_mm})` : null;
  if (under) assign(under, ground ?? { d: null, fill: null });
  if (cut) assign(cut, { d: d_cut, transform: null });
  if (touchable) assign(touchable, { ...box, transform });
  if (art) showArt(group, pictureOf(art), { ...box, transform, preserveAspectRatio: "none" });
  else group.querySelector("image")?.remove();
}

/**
 * The picture that was there is seen until the new one is.
 *
 * @param {SVGGElement} group
 * @param {string} href
 * @param {import("../dom.js").Attributes} attributes
 */
function showArt(group, href, attributes) {
  const images = [...group.querySelectorAll("image")];
  const shown = images[images.length - 1];
  if (shown?.getAttribute("href") === href) return assign(shown, attributes);
  const image = svg("image", { ...attributes, href });
  const instead = () => images.forEach((old) => old.remove());
  image.addEventListener("load", instead);
  image.addEventListener("error", instead);
  group.querySelector(".cut")?.after(...images, image);
}

/** @param {string} art */
function pictureOf(art) {
  const address = pictures.get(art) ?? URL.createObjectURL(new Blob([art], { type: "image/svg+xml" }));
  pictures.set(art, address);
  return address;
}

/**
 * Show a sticker elsewhere than where it is drawn.
 *
 * @param {Element} element
 * @param {SheetSticker} sticker
 * @param {Pose} at
 */
export function pose(element, { x_mm, y_mm, turn_deg }, { x, y, turn, scale }) {
  const same = x === x_mm && y === y_mm && turn === turn_deg && scale === 1;
  const angle = turn - turn_deg;
  const transform = `translate(${x} ${y}) rotate(${angle}) scale(${scale}) translate(${-x_mm} ${-y_mm})`;
  assign(element, { transform: same ? null : transform });
}

/**
 * Lettering, as outlines.
 *
 * @param {SVGGElement} group
 * @param {Table[]} letterings
 */
export function showLettering(group, letterings) {
  const there = new Map([...group.children].map((one) => [one.getAttribute("data-lettering"), one]));
  for (const { index, text, d, fill, box } of letterings) {
    const element = there.get(String(index)) ?? letteringMade(group);
    there.delete(String(index));
    assign(element, { "data-lettering": index, "aria-label": text, transform: null });
    const [touchable, path] = element.children;
    const [x, y, width, height] = box;
    assign(touchable, { x, y, width, height });
    assign(path, { d, fill });
  }
  for (const element of there.values()) element.remove();
}

/** @param {SVGGElement} group */
function letteringMade(group) {
  const element = svg("g", { class: "lettering", role: "button", tabindex: 0, "aria-haspopup": "dialog" });
  element.append(svg("rect", { class: "touchable" }), svg("path", {}));
  group.append(element);
  return element;
}
