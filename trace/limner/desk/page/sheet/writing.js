/** "Write the files": always there on the sheet; shows how far it is, what was written, what is to be mended. */

import { button, html } from "../dom.js";
import { postWrite } from "../server.js";

/** @import { ProgressEvent, WrittenEvent } from "../contract.js" */
/** @import { Here } from "../here.js" */

/**
 * @param {Here} here
 * @returns {HTMLElement}
 */
export function writeTheFiles(here) {
  const progress = html("progress", { max: 1, value: 0, hidden: true, "aria-label": "Writing the files" });
  const result = html("p", { class: "written", "aria-live": "polite", hidden: true });
  const act = button("Write the files", () => void begin());
  const begin = async () => {
    act.disabled = true;
    result.hidden = true;
    progress.hidden = false;
    progress.removeAttribute("value");
    try {
      await postWrite();
    } catch (error) {
      done();
      here.desk.refuse(error);
    }
  };
  const done = () => {
    act.disabled = false;
    progress.hidden = true;
  };
  here.desk.addEventListener("progress", (event) => {
    const { done: far, of } = /** @type {CustomEvent<ProgressEvent>} */ (event).detail;
    progress.hidden = false;
    progress.max = of;
    progress.value = far;
  });
  here.desk.addEventListener("written", (event) => {
    done();
    result.hidden = false;
    result.replaceChildren(...sayWritten(/** @type {CustomEvent<WrittenEvent>} */ (event).detail));
  });
  return html("div", { class: "writing" }, result, progress, act);
}

/**
 * @param {WrittenEvent} written
 * @returns {(Node | string)[]}
 */
function sayWritten({ files = [], folder = "sheet", findings = 0, sentence }) {
  if (sentence) return [sentence];
  const mend =
    findings > 0 ? ` ${findings} ${findings === 1 ? "thing is" : "things are"} still to be mended.` : "";
  const links = files.flatMap((name, index) => {
    const link = html(
      "a",
      { href: `/files/${encodeURIComponent(name)}`, target: "_blank", rel: "noopener" },
      name,
    );
    return index === 0 ? [link] : [", ", link];
  });
  return [`Written into the folder ${folder}: `, ...links, ".", mend];
}
