// node bundle.mjs GLUE.js PROGRAM.wasm SEASON-FOLDER OUT.html: everything into one file, nothing left to fetch.
import { createHash } from "node:crypto";
import { readFileSync, readdirSync, writeFileSync } from "node:fs";
import { dirname, join } from "node:path";
import { fileURLToPath } from "node:url";
import { gzipSync } from "node:zlib";

const [glue, wasm, season, out] = process.argv.slice(2);
const here = dirname(fileURLToPath(import.meta.url));
const source = (name) => readFileSync(join(here, name), "utf8");
const packed = (bytes) => gzipSync(bytes, { level: 9 }).toString("base64");

// Modules one after the other, each before those that ask for it: their names are unique over the page.
const order = ["store.js", "program.js", "nights.js", "grid.js", "main.js"];
const script = order.map((name) => {
  const text = source(name).replace(/^import [^;]*;\n/gm, "").replace(/^export /gm, "");
  return name === "main.js" ? text : "// " + name + "\n" + text;
}).join("\n").replaceAll("</script", "<\\/script");

const season_files = Object.fromEntries(["", "relay"].flatMap((folder) =>
  readdirSync(join(season, folder)).filter((name) => name.endsWith(".csv")).sort().map((name) =>
    ["season/" + join(folder, name), readFileSync(join(season, folder, name), "utf8")])));

const hash = "'sha256-" + createHash("sha256").update(script).digest("base64") + "'";
const parts = {
  policy: `default-src 'none'; script-src ${hash} 'wasm-unsafe-eval'; worker-src blob:; style-src 'unsafe-inline'; ` +
    "img-src data:; connect-src 'none'; form-action 'none'; base-uri 'none'",
  style: source("style.css"),
  script,
  "worker-script": packed(readFileSync(glue, "utf8") + "\n" + source("worker.js")),
  "worker-program": packed(readFileSync(wasm)),
  "demo-season": packed(JSON.stringify(season_files)),
};
writeFileSync(out, source("page.html").replace(/@([a-z-]+)@/g, (whole, name) => parts[name] ?? whole));
