/** What would not hold where stickers are moved to: too near to a neighbour, or over the margin. */

import { toMm } from "../edits/millimetres.js";
import { beyond, carried, nearest, outline, pointsOf } from "./outlines.js";

/** @import { Point, Sheet, SheetSticker, Table } from "../contract.js" */
/** @import { Outline, Pose } from "./outlines.js" */

/** @typedef {{at: Point, words: string}} Mark */

/** The gap of a job that names none. */
const GAP_MM = 2;

/** Distances that are met to within this are met. */
const ROUNDING_MM = 0.02;

export class Holds {
  /**
   * @param {Sheet} sheet
   * @param {Table} document
   * @param {(name: string) => Pose} poseOf where a sticker is seen
   * @param {Set<string>} moving
   */
  constructor(sheet, document, poseOf, moving) {
    const { width_mm, height_mm, safe_mm } = sheet.page;
    this.gap = toMm(document.cut?.gap, GAP_MM);
    this.safe = { left: safe_mm, top: safe_mm, right: width_mm - safe_mm, bottom: height_mm - safe_mm };
    const cut = sheet.stickers.filter(({ d_cut }) => d_cut);
    this.moving = cut.filter(({ name }) => moving.has(name)).map(own);
    /** @type {{name: string, outline: Outline, gap: number}[]} */
    this.others = [
      ...cut
        .filter(({ name }) => !moving.has(name))
        .map((sticker) => {
          const { points, from } = own(sticker);
          return { name: sticker.name, outline: carried(points, from, poseOf(sticker.name)), gap: this.gap };
        }),
      ...sheet.lettering.map(({ text, box: [x, y, width, height] }) => ({
        name: `“${text}”`,
        outline: outline([
          [x, y],
          [x + width, y],
          [x + width, y + height],
          [x, y + height],
        ]),
        gap: 0.01,
      })),
    ];
  }

  /**
   * @param {(name: string) => Pose} poseOf
   * @returns {Mark[]}
   */
  at(poseOf) {
    return this.moving.flatMap(({ name, points, from }) => {
      const here = carried(points, from, poseOf(name));
      const over = beyond(here, this.safe);
      const near = this.others.flatMap((other) => this.near(here, other));
      return over && over.distance > ROUNDING_MM
        ? [...near, { at: over.at, words: `${say(over.distance)} over the safe margin` }]
        : near;
    });
  }

  /**
   * @param {Outline} here
   * @param {{name: string, outline: Outline, gap: number}} other
   * @returns {Mark[]}
   */
  near(here, other) {
    const found = nearest(here, other.outline, other.gap);
    if (!found || found.distance > other.gap - ROUNDING_MM) return [];
    const words =
      found.distance === 0
        ? `over ${other.name}`
        : `${say(found.distance)} from ${other.name}, ${say(other.gap)} asked`;
    return [{ at: found.at, words }];
  }
}

/** @param {SheetSticker} sticker */
const own = ({ name, d_cut, x_mm, y_mm, turn_deg }) => ({
  name,
  points: pointsOf(d_cut ?? ""),
  from: { x: x_mm, y: y_mm, turn: turn_deg, scale: 1 },
});

/** @param {number} mm */
const say = (mm) => `${mm.toFixed(1)} mm`;
