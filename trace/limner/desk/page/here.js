/**
 * What every hand and slip is given: the whole page.
 *
 * @import { Shape } from "./contract.js"
 * @import { Desk } from "./desk.js"
 * @import { Sketch } from "./sketch/sketch.js"
 * @import { Sheet } from "./sheet/sheet.js"
 * @import { Slips } from "./slips/slips.js"
 *
 * @typedef {{words: string, take: (area: Shape) => void}} Pick the next area that is touched is taken
 *
 * @typedef {object} Here
 * @property {Desk} desk the job, and how it is decided
 * @property {SVGSVGElement} surface
 * @property {Slips} slips
 * @property {Sketch | null} sketch the sketch that fills the desk; null on the sheet
 * @property {Sheet | null} sheet
 * @property {string | null} colour the colour in hand: a name of the job, or "#rrggbb"
 * @property {(pick: Pick | null) => void} pick
 * @property {Pick | null} picking
 * @property {(name: string | null) => void} go to a sketch, or back to the sheet
 * @property {() => void} bring choose photographs of new sketches
 * @property {(word: string) => void} take up a hand, by its word
 * @property {(words: string) => void} hint say in few words, at the foot, what can be done now; "" for nothing
 */

export {};
