/** "Write the files": always there on the sheet; shows how far it is, what was written, what is to be mended. */

import { button, html } from "../dom.js";
import { openFinding } from "./findings.js";
import { deed } from "../slips/fields.js";
import { postWrite } from "../server.js";

/** @import { ProgressEvent, WrittenEvent } from "../contract.js" */
/** @import { Here } from "../here.js" */

/**
 * @param {Here} here
 * @returns {HTMLElement}
 */
export function writeTheFiles(here) {
  const progress = html("progress", { max: 1, value: 0, hidden: true, "aria-label": "Writing the files" });
  const result = html("div", { class: "written", "aria-live": "polite", hidden: true });
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
    const away = button("done", () => (result.hidden = true), { "aria-label": "Put away" });
    result.replaceChildren(away, ...sayWritten(/** @type {CustomEvent<WrittenEvent>} */ (event).detail));
    result.append(...standsAgainst(here));
  });
  // What was written is said until something else is touched.
  window.addEventListener("pointerdown", ({ target }) => {
    if (target instanceof Node && !result.contains(target)) result.hidden = true;
  });
  return html("div", { class: "writing" }, result, progress, act);
}

/** What is offered to be opened, by its name in the trade. @type {Record<string, string>} */
const WORDS = { "proof.png": "the proof", "sheet.pdf": "the PDF", "report.html": "the ticket" };

/**
 * @param {WrittenEvent} written
 * @returns {(Node | string)[]}
 */
function sayWritten({ files = [], folder = "sheet", findings = 0, sentence }) {
  if (sentence) return [sentence];
  const mend = findings === 1 ? "One thing is" : `${findings} things are`;
  const links = Object.entries(WORDS)
    .filter(([name]) => files.includes(name))
    .map(([name, words]) => html("a", { href: `/files/${name}`, target: "_blank", rel: "noopener" }, words));
  const offer = links.flatMap((link, index) => [
    index === 0 ? " Open " : index < links.length - 1 ? ", " : " or ",
    link,
  ]);
  return [
    `Written into the folder ${folder}.`,
    ...offer,
    ...(links.length > 0 ? ["."] : []),
    ...(findings > 0
      ? [html("br"), html("span", { class: "complaint" }, `${mend} still to be mended.`)]
      : []),
  ];
}

/** More sentences than this are read on the ticket. */
const MOST_SAID = 4;

/**
 * What stands against sending the files, each with the way to its number on the sheet.
 *
 * @param {Here} here
 * @returns {Node[]}
 */
function standsAgainst(here) {
  const against = (here.sheet?.sheet?.findings ?? []).filter(({ severity }) => severity === "error");
  return against.slice(0, MOST_SAID).map((finding) => {
    const mark = document.querySelector(`[data-finding="${finding.number}"]`);
    const says = html("p", { class: "is" }, `${finding.number} ${finding.message} `);
    if (mark)
      says.append(deed("Show it", () => openFinding(mark, finding, here, false), `Show ${finding.number}`));
    return says;
  });
}
