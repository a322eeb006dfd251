/**
 * New sketches: photographs that are dropped, chosen or pasted. Each is shown at once, from the file itself; what
 * cannot be taken says why where it lies.
 */

import { button, html, takesText } from "../dom.js";
import { letGo, shown } from "../marks.js";
import { broughtAs } from "../server.js";

/** @import { Here } from "../here.js" */

const KINDS = "image/*,.heic,.heif,.tif,.tiff";

export class Arrivals {
  /**
   * @param {Here} here
   * @param {HTMLElement} container
   */
  constructor(here, container) {
    this.here = here;
    this.prints = html("div", { class: "arrivals", role: "group", "aria-label": "New sketches" });
    this.files = html("input", {
      type: "file",
      accept: KINDS,
      multiple: true,
      hidden: true,
    });
    /** The word at the foot. */
    this.word = button("Bring a sketch", () => this.choose());
    container.append(this.prints, this.files);
    this.files.addEventListener("change", () => {
      void this.bring([...(this.files.files ?? [])]);
      this.files.value = "";
    });
    window.addEventListener("dragover", (event) => this.dragged(event));
    window.addEventListener("dragleave", (event) => !event.relatedTarget && this.invite(false));
    window.addEventListener("drop", (event) => this.dropped(event));
    window.addEventListener("paste", (event) => this.pasted(event));
  }

  choose() {
    this.files.click();
  }

  /** @param {DragEvent} event */
  dragged(event) {
    if (!event.dataTransfer?.types.includes("Files")) return;
    event.preventDefault();
    event.dataTransfer.dropEffect = "copy";
    this.invite(true);
  }

  /** @param {DragEvent} event */
  dropped(event) {
    this.invite(false);
    const files = [...(event.dataTransfer?.files ?? [])];
    if (files.length === 0) return;
    event.preventDefault();
    void this.bring(files);
  }

  /** @param {ClipboardEvent} event */
  pasted(event) {
    const files = [...(event.clipboardData?.files ?? [])];
    if (files.length === 0 || takesText(event.target)) return;
    event.preventDefault();
    void this.bring(files);
  }

  /** @param {boolean} over whether something is held over the desk */
  invite(over) {
    if (document.body.classList.contains("invites") === over) return;
    document.body.classList.toggle("invites", over);
    this.here.hint(over ? "Let go: it is traced here" : "");
  }

  /**
   * Take photographs, one after the other; one that comes alone fills the desk.
   *
   * @param {File[]} files
   */
  async bring(files) {
    this.here.slips.close();
    letGo("photograph");
    letGo("shapes");
    const prints = files.map((file) => this.lay(file));
    const names = [];
    for (const [i, file] of files.entries()) names.push(await this.take(file, prints[i]));
    const [name] = names;
    if (files.length === 1 && name) this.here.go(name);
  }

  /**
   * Lay a file on the desk as it is.
   *
   * @param {File} file
   */
  lay(file) {
    const address = URL.createObjectURL(file);
    const image = html("img", { src: address, alt: "", decoding: "async" });
    const caption = html("figcaption", {}, file.name);
    const print = html("figure", { class: "arrival" }, image, caption);
    // What a browser cannot show, the server may: it lies there by its name.
    image.addEventListener("error", () => image.remove());
    void image.decode().then(
      () => shown("photograph"),
      () => undefined,
    );
    this.prints.append(print);
    return { address, print, caption };
  }

  /**
   * @param {File} file
   * @param {{address: string, print: HTMLElement, caption: HTMLElement}} laid
   * @returns {Promise<string | null>} the name of the new sticker
   */
  async take(file, { address, print, caption }) {
    try {
      const name = await this.here.desk.bring(file, file.name);
      broughtAs(name, address);
      print.remove();
      return name;
    } catch (error) {
      const sentence = error instanceof Error ? error.message : String(error);
      const away = button("done", () => print.remove(), {
        class: "deed",
        "aria-label": `Put ${file.name} away`,
      });
      print.classList.add("refused");
      caption.replaceChildren(html("span", { class: "complaint", role: "alert" }, sentence), " ", away);
      URL.revokeObjectURL(address);
      return null;
    }
  }
}
