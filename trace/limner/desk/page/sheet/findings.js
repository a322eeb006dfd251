/** What is to be mended is pencilled on the sheet: small numbers where it is; touching one says what. */

import { svg } from "../dom.js";
import { besideSheet } from "./beside.js";

/** @import { Finding } from "../contract.js" */
/** @import { Here } from "../here.js" */

/**
 * @param {SVGGElement} group
 * @param {Finding[]} findings
 * @param {Here} here
 */
export function showFindings(group, findings, here) {
  const key = JSON.stringify(findings);
  if (group.dataset.shown === key) return;
  group.dataset.shown = key;
  group.replaceChildren(
    ...findings.filter(({ where_mm }) => where_mm).map((finding) => numbered(finding, here)),
  );
}

/**
 * @param {Finding} finding
 * @param {Here} here
 * @returns {SVGElement}
 */
function numbered(finding, here) {
  const [x, y] = finding.where_mm ?? [0, 0];
  const number = svg("text", { class: "number", "aria-hidden": true });
  number.append(String(finding.number));
  const mark = svg("g", {
    class: "finding",
    role: "button",
    tabindex: 0,
    "data-finding": finding.number,
    "aria-label": `${finding.number}: ${finding.message}`,
    transform: `translate(${x} ${y})`,
  });
  mark.append(svg("circle", {}), number);
  mark.addEventListener("keydown", (event) => {
    if (event.key !== "Enter" && event.key !== " ") return;
    event.preventDefault();
    event.stopPropagation();
    openFinding(mark, finding, here, true);
  });
  return mark;
}

/**
 * Say what is to be mended. A pointer is caught by the whole surface, so a touch is told from there.
 *
 * @param {Element} mark
 * @param {Finding | undefined} finding
 * @param {Here} here
 * @param {boolean} keyboard
 */
export function openFinding(mark, finding, here, keyboard) {
  if (!finding || !here.sheet) return;
  const { x, y } = mark.getBoundingClientRect();
  here.slips.open("finding", finding, { x, y, ...besideSheet(here.sheet, mark), keyboard, from: mark });
}
