// Makes the module and the page from what CMake built: node bindings/web/build.mjs BUILD_FOLDER TEXTS
// TEXTS are those of wetspan.page.texts(), as JSON.
//   module/{index.js,index.d.ts,core.wasm}   the library for pages of others
//   wetspan.html                             the page, one file
import { execFileSync } from "node:child_process";
import { copyFileSync, mkdirSync, readFileSync, writeFileSync } from "node:fs";
import path from "node:path";
import { argv } from "node:process";
import { fileURLToPath, pathToFileURL } from "node:url";
import { graded } from "./page/words.js";

const here = path.dirname(fileURLToPath(import.meta.url));
const [out, texts] = [path.resolve(argv[2]), JSON.parse(argv[3])];
const json = (data) => JSON.stringify(data).replaceAll("<", "\\u003c");
const module = path.join(out, "module");
mkdirSync(module, { recursive: true });

/** Puts a script and what it imports into one text. */
function bundle(entry, format) {
  const options = [path.join(here, entry), "--bundle", `--format=${format}`, "--target=es2020", "--platform=neutral"];
  const minify = format === "iife" ? ["--minify"] : [];
  return execFileSync("esbuild", [...options, ...minify, `--alias:#core=${path.join(out, "core.js")}`, "--log-level=warning"], { encoding: "utf8" });
}

writeFileSync(path.join(module, "index.js"), bundle("src/wetspan.js", "esm"));
copyFileSync(path.join(out, "core.wasm"), path.join(module, "core.wasm"));
const wasm = readFileSync(path.join(out, "core.wasm"));
const { load } = await import(pathToFileURL(path.join(module, "index.js")));
const { version, parameters, sections, outcomes } = await load(wasm);
writeFileSync(path.join(module, "index.d.ts"), types());

const parts = {
  "/*STYLE*/": readFileSync(path.join(here, "page/page.css"), "utf8"),
  "<!--CAUTIONS-->": texts.cautions,
  'id="table">': `id="table">${json({ version, parameters, sections })}`,
  'id="texts">': `id="texts">${json(texts)}`,
  'id="wasm">': `id="wasm">${wasm.toString("base64")}`,
  'id="worker">': `id="worker">${Buffer.from(bundle("page/worker.js", "iife")).toString("base64")}`,
  "<script></script>": `<script>${bundle("page/page.js", "iife").replaceAll("</script", "<\\/script")}</script>`,
};
let page = readFileSync(path.join(here, "page/page.html"), "utf8");
for (const [place, text] of Object.entries(parts)) {
  if (page.split(place).length !== 2) throw new Error(`page.html has not one ${place}`);
  page = page.replace(place, () => text);
}
writeFileSync(path.join(out, "wetspan.html"), page);

/** The module's types: what is written by hand, and a section of a scenario for each of the table. */
function types() {
  const input = (row) => {
    const kinds = { number: "number | string", count: "number", toggle: "boolean", choice: row.choices.map((name) => JSON.stringify(name)).join(" | ") };
    const unit = row.unit === "1" ? "" : ` A bare number is in ${row.unit}.`;
    const bounds = row.kind === "number" || row.kind === "count" ? ` ${row.low} to ${row.high}.` : "";
    return `    /** ${row.meaning}.${unit}${bounds} Grade ${graded(row)}: ${row.source}. */\n    ${row.name}?: ${kinds[row.kind]};`;
  };
  const interfaces = sections.map(({ name, about }) => {
    const inside = parameters.filter((row) => row.section === name).map(input);
    return `  /** ${about}. */\n  ${name}?: {\n${inside.join("\n")}\n  };`;
  });
  const keys = parameters.map((row) => JSON.stringify(row.key)).join(" | ");
  const names = outcomes.map((row) => `  /** ${row.meaning} [${row.unit}] */\n  ${JSON.stringify(row.name)}: number;`);
  return readFileSync(path.join(here, "src/types.d.ts"), "utf8")
    .replace("export type Key = string;", () => `export type Key = ${keys};`)
    .replace("export interface Sections {}", () => `export interface Sections {\n${interfaces.join("\n")}\n}`)
    .replace("export interface Numbers {}", () => `export interface Numbers {\n${names.join("\n")}\n}`);
}
