// Every module of the page is named in index.html, so that a browser fetches all of them at once instead of
// one depth of imports after the other. `--write` brings the list in step; without it, a difference is an error.

import { readdirSync, readFileSync, writeFileSync } from "node:fs";

const TYPES_ALONE = new Set(["contract.js", "here.js"]);
const page = process.argv[2];
const index = `${page}/index.html`;
const modules = readdirSync(page, { recursive: true, encoding: "utf8" })
  .map((name) => name.replaceAll("\\", "/"))
  .filter((name) => name.endsWith(".js") && name !== "main.js" && !TYPES_ALONE.has(name))
  .sort();
const lines = modules.map((name) => `    <link rel="modulepreload" href="/page/${name}" />\n`).join("");
const before = readFileSync(index, "utf8");
const after = before
  .replace(/ *<link rel="modulepreload"[^>]*>\n/g, "")
  .replace(/( *<script type="module")/, (script) => lines + script);
if (process.argv.includes("--write")) writeFileSync(index, after);
else if (after !== before) {
  console.error("index.html does not name every module: run .ci/page/check --write");
  process.exit(1);
}
