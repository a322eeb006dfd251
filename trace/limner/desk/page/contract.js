/**
 * What the server and the page say to each other: types alone. Lengths are millimetres, fractions are of the
 * photographed page's width and height, colours of the screen are "#rrggbb".
 *
 * @typedef {[number, number]} Point
 * @typedef {"silhouette" | "area" | "line" | "solid"} Role
 *
 * @typedef {object} Shape
 * @property {string} name
 * @property {Role} role
 * @property {string} d
 * @property {string} fill
 * @property {Point | null} at a point surely inside, as fractions
 * @property {number | null} rule index in the sticker's list of areas
 * @property {[number, number, "corner" | "smooth"][]} nodes
 * @property {number} error_mm
 * @property {number} area_mm2
 * @property {number} bridged_gaps
 *
 * @typedef {{x_mm: number, y_mm: number, width_mm: number, height_mm: number}} Box
 * @typedef {{x_mm: number, y_mm: number, angle_deg: number, how: string, keep: string | null}} Axis
 * @typedef {{at: Point, d: string}} Bridge
 * @typedef {{index: number, kind: string, words: string}} Touched
 *
 * @typedef {object} Drawing
 * @property {string} token
 * @property {number} width_mm
 * @property {number} height_mm
 * @property {Box} page where the photographed page lies in the drawing
 * @property {string} [photograph] names the page as it was laid flat; empty for art
 * @property {number} line_width_mm
 * @property {number} smoothing_mm
 * @property {number} nodes
 * @property {number} error_mm
 * @property {Axis[]} axes
 * @property {Shape[]} fills bottom to top
 * @property {Shape[]} lines
 * @property {Bridge[]} bridges
 * @property {Touched[]} touches
 * @property {string[]} notes
 *
 * @typedef {object} Sticker
 * @property {string} name
 * @property {string | null} sketch
 * @property {string | null} art
 * @property {"waiting" | "tracing" | "ready" | "failed"} state
 * @property {string | null} sentence
 * @property {string | null} token
 *
 * @typedef {{name: string, screen: string, press: number[] | null, built_in: boolean}} Colour
 * @typedef {{sentence: string, line: number | null, sticker: string | null}} Problem
 * @typedef {Record<string, any>} Table a table of the job file, just as written
 *
 * @typedef {object} State
 * @property {number} revision
 * @property {string} name
 * @property {string} folder_name
 * @property {Table} document
 * @property {Problem[]} problems
 * @property {Colour[]} colours
 * @property {Sticker[]} stickers
 * @property {string | null} undo
 * @property {string | null} redo
 * @property {{token: string, width_mm?: number | null, height_mm?: number | null, background?: string | null}} [sheet]
 *
 * @typedef {object} Edit
 * @property {"set" | "unset" | "add" | "remove"} what
 * @property {(string | number)[]} where
 * @property {unknown} [to]
 * @property {number} [at]
 *
 * @typedef {object} SheetSticker
 * @property {string} name
 * @property {number} x_mm
 * @property {number} y_mm
 * @property {number} turn_deg
 * @property {number} width_mm
 * @property {number} height_mm
 * @property {boolean} placed
 * @property {string | null} d_cut
 * @property {{d: string, fill: string} | null} [ground]
 * @property {string | null} svg
 *
 * @typedef {object} Finding
 * @property {number} number
 * @property {string} severity
 * @property {string} code
 * @property {Point | null} where_mm
 * @property {string} message
 * @property {string | null} sticker
 *
 * @typedef {object} SheetPage
 * @property {number} width_mm
 * @property {number} height_mm
 * @property {number} bleed_mm
 * @property {number} safe_mm
 * @property {string | null} background
 *
 * @typedef {object} Sheet
 * @property {SheetPage} page
 * @property {SheetSticker[]} stickers
 * @property {Table[]} lettering
 * @property {Finding[]} findings
 * @property {string[]} waiting
 * @property {string} token
 * @property {string | null} sentence
 *
 * @typedef {{kind: "state", revision: number}} StateEvent
 * @typedef {{kind: "sticker", name: string, state: Sticker["state"], token: string | null, sentence: string | null}} StickerEvent
 * @typedef {{kind: "progress", words: string, done: number, of: number}} ProgressEvent
 * @typedef {{kind: "written", files?: string[], folder?: string, findings?: number, sentence?: string | null}} WrittenEvent
 * @typedef {StateEvent | StickerEvent | ProgressEvent | WrittenEvent} DeskEvent
 */

export {};
