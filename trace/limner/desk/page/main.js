/** The desk begins: the job is read, the surface laid out, the server followed. */

import { Desk } from "./desk.js";
import { html, need, svg, takesText } from "./dom.js";
import { Foot } from "./foot/foot.js";
import { sheetWords } from "./foot/sheet-words.js";
import { Hands } from "./hands/hands.js";
import { axisByKey } from "./hands/axis.js";
import { showHolds } from "./hands/pull.js";
import { thingsByKey, touchThing } from "./hands/things.js";
import { touchArea } from "./hands/touch.js";
import { getState } from "./server.js";
import { SheetActor } from "./sheet/actor.js";
import { Arrivals } from "./sheet/arrivals.js";
import { endPlacing } from "./sheet/lettering.js";
import { Sheet } from "./sheet/sheet.js";
import { writeTheFiles } from "./sheet/writing.js";
import { showCorrections } from "./sketch/corrections.js";
import { Sketch } from "./sketch/sketch.js";
import { walkAreas } from "./sketch/walk.js";
import { Slips } from "./slips/slips.js";
import { followKeys } from "./surface/keys.js";
import { Pointers } from "./surface/pointers.js";
import { followWheel } from "./surface/wheel.js";

/** @import { Here, Pick } from "./here.js" */
/** @import { Contact } from "./surface/pointers.js" */

class Page {
  /** @param {Desk} desk */
  constructor(desk) {
    this.desk = desk;
    this.surface = svg("svg", { id: "surface", role: "group", "aria-label": "Desk" });
    need("desk").append(this.surface);
    /** @type {Sketch | null} */
    this.sketch = null;
    /** @type {string | null} */
    this.colour = null;
    /** @type {Pick | null} */
    this.picking = null;
    /** @type {Here} */
    const here = this;
    this.sheet = new Sheet(here, need("desk"));
    this.slips = new Slips(need("slips"), here);
    this.hands = new Hands(here);
    this.sheetActor = new SheetActor(here, this.sheet);
    this.foot = new Foot(need("foot"), here, this.hands);
    this.write = writeTheFiles(here);
    this.words = sheetWords(here, this.sheet);
    this.arrivals = new Arrivals(here, need("desk"));
    showHolds(here);
    const pointers = new Pointers(this.surface, () => this.actor());
    followWheel(this.surface, () => this.depth().view);
    followKeys(this.surface, pointers, { view: () => this.depth().view, fit: () => this.depth().fit() });
    window.addEventListener("keydown", (event) => this.escaped(event));
    window.addEventListener("hashchange", () => this.arrive());
    window.addEventListener("resize", () => this.sketch || this.sheet.fit());
    for (const event of ["state", "sticker"]) desk.addEventListener(event, () => this.changed());
    for (const event of ["state", "decided"]) {
      desk.addEventListener(event, () => this.sketch && showCorrections(this.sketch));
    }
    this.arrive();
  }

  /** What fills the desk now. */
  depth() {
    return this.sketch ?? this.sheet;
  }

  /** @param {string | null} name */
  go(name) {
    location.hash = name === null ? "" : `sketch/${encodeURIComponent(name)}`;
  }

  /** Show what the address asks for. */
  arrive() {
    const name = this.asked();
    const from = name !== null && !this.sketch ? this.sheet.placeOf(name) : null;
    const left = this.sketch?.name ?? null;
    this.leave();
    this.sketch = name === null ? null : new Sketch(this.desk, this.surface, name, from);
    document.body.dataset.depth = this.sketch ? "sketch" : "sheet";
    document.title = `${name ?? this.desk.state.name} – limner`;
    if (this.sketch) this.foot.arrange([this.hands.element], [this.write]);
    else this.foot.arrange([this.arrivals.word, ...this.words, this.write]);
    if (this.sketch) this.openSketch(this.sketch);
    else this.sheet.open(left);
  }

  /**
   * The sketch that the address names; null: the sheet.
   *
   * @returns {string | null}
   */
  asked() {
    const asked = /^#sketch\/(.+)$/.exec(location.hash)?.[1];
    const names = this.desk.state.stickers.map(({ name }) => name);
    return names.find((name) => encodeURIComponent(name) === asked || name === asked) ?? null;
  }

  leave() {
    this.slips.close();
    this.hands.rest();
    this.hint("");
    this.depth().close();
  }

  /** @param {Sketch} sketch */
  openSketch(sketch) {
    walkAreas(sketch.fills, (area, shift) => this.areaByKey(area, shift));
    thingsByKey(sketch.world, (thing, place) => touchThing(this, thing, place));
    sketch.world.addEventListener("keydown", (event) => axisByKey(this, event));
    const first = () => sketch.areas().rules.length > 0 || this.hint("Touch an area to name and colour it");
    sketch.addEventListener("drawing", first, { once: true });
    sketch.addEventListener("drawing", () => {
      this.slips.refresh();
      this.foot.show();
    });
    sketch.addEventListener("moved", () => this.slips.place());
    void sketch.open();
  }

  changed() {
    if (this.sketch && !this.desk.sticker(this.sketch.name)) this.go(null);
    else void this.depth().follow();
  }

  bring() {
    this.arrivals.choose();
  }

  /** @param {string} word */
  take(word) {
    this.hands.takeBy(word);
  }

  /** @param {string} words */
  hint(words) {
    this.foot.say(words);
  }

  /** @param {Pick | null} pick */
  pick(pick) {
    this.picking = pick;
    this.surface.classList.toggle("picks", pick !== null);
    this.hint(pick?.words ?? "");
  }

  /** Who acts on what pointers do. */
  actor() {
    const { view } = this.depth();
    if (!this.sketch) return this.sheetActor.actor();
    const { hand } = this.hands;
    const tap = (/** @type {Contact} */ contact) => hand.tap(contact, this);
    return { view, tap, twice: tap, begin: (/** @type {Contact} */ contact) => hand.begin(contact, this) };
  }

  /**
   * @param {Element} element
   * @param {boolean} shift
   */
  areaByKey(element, shift) {
    const box = element.getBoundingClientRect();
    const x = box.x + box.width / 2;
    const y = box.y + box.height / 2;
    const [x_mm, y_mm] = this.depth().view.toPaper(x, y);
    const contact = { x, y, x_mm, y_mm, target: element, pointer: "key", shift };
    const area = this.sketch?.areaAt(contact);
    if (!area) return;
    if (this.hands.hand.word === "colour") this.hands.hand.tap(contact, this);
    else touchArea(this, area, { ...contact, keyboard: true });
  }

  /** Escape puts away what lies on top: what is picked, a slip, a hand, the sketch. @param {KeyboardEvent} event */
  escaped(event) {
    if (event.key !== "Escape" || event.defaultPrevented) return;
    if (this.picking) this.pick(null);
    else if (this.sheet.placing) endPlacing(this, this.sheet);
    else if (this.slips.now) this.slips.close();
    else if (takesText(event.target)) return;
    else if (this.hands.hand.word !== "touch") this.hands.rest();
    else if (this.sketch) this.go(null);
    else this.sheet.take([]);
  }
}

try {
  const page = new Page(new Desk(await getState()));
  page.desk.follow();
} catch (error) {
  const sentence = error instanceof Error ? error.message : String(error);
  need("desk").append(html("p", { class: "complaint alone", role: "alert" }, sentence));
}
