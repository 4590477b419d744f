// node same_answers.mjs PROGRAM.js COMMAND REPOSITORY: the program compiled for a browser against the native command.
// Computed: the native command of this tree on the same files. Numbers within 1e-6, words the same.
import { execFileSync, spawnSync } from "node:child_process";
import { mkdtempSync, readdirSync, readFileSync, rmSync, statSync, writeFileSync } from "node:fs";
import { createRequire } from "node:module";
import { tmpdir } from "node:os";
import { join, resolve } from "node:path";

const [programFile, commandFile, repository] = process.argv.slice(2).map((path) => resolve(path));
const makeProgram = createRequire(import.meta.url)(programFile);
const program = await makeProgram({ wasmBinary: readFileSync(programFile.replace(/js$/, "wasm")), print: () => {}, printErr: () => {} });
const work = mkdtempSync(join(tmpdir(), "bagsplit-answers-"));
program.FS.mkdir("/night");
program.FS.chdir("/night");

function bring(name, bytes) {
  let folder = "";
  for (const part of name.split("/").slice(0, -1)) {
    folder += part + "/";
    if (!program.FS.analyzePath("/night/" + folder).exists) program.FS.mkdir("/night/" + folder);
    execFileSync("mkdir", ["-p", join(work, folder)]);
  }
  program.FS.writeFile("/night/" + name, bytes);
  writeFileSync(join(work, name), bytes);
}

const day = Math.floor(Date.now() / 86400000);
const here = (words) => JSON.parse(program.ccall("bagsplit_ask", "string", ["string"], [JSON.stringify({ arguments: words, local_day: day })]));
const there = (words) => {
  const run = spawnSync(commandFile, words, { cwd: work, encoding: "utf8", maxBuffer: 1 << 28, env: { ...process.env, LC_ALL: "C", TZ: "UTC" } });
  return { ended: run.status, answer: run.stdout, talk: run.stderr };
};

let largest = 0;
function differ(a, b, path = "") {
  if (typeof a === "number" && typeof b === "number") {
    const gap = Math.abs(a - b) / Math.max(1, Math.abs(b));
    largest = Math.max(largest, gap);
    return gap <= 1e-6 ? "" : `${path}: ${a} here, ${b} there`;
  }
  if (a === null || b === null || typeof a !== "object" || typeof b !== "object") return a === b ? "" : `${path}: ${JSON.stringify(a)} here, ${JSON.stringify(b)} there`;
  const keys = new Set([...Object.keys(a), ...Object.keys(b)]);
  for (const key of keys) {
    const found = differ(a[key], b[key], path + "/" + key);
    if (found) return found;
  }
  return "";
}

let wrong = 0;
function judge(name, trouble, note = "") {
  console.log((trouble ? "FAILED " : "ok     ") + name + (trouble ? ": " + trouble : "") + note);
  wrong += trouble ? 1 : 0;
}

function sameAnswer(words) {
  const started = performance.now();
  largest = 0;
  const ours = here(words);
  const seconds = (performance.now() - started) / 1000;
  const theirs = there(words);
  let trouble = ours.ended === theirs.ended ? "" : `ended ${ours.ended} here, ${theirs.ended} there: ${ours.talk} | ${theirs.talk}`;
  if (!trouble && theirs.answer.startsWith("{")) trouble = differ(JSON.parse(ours.answer), JSON.parse(theirs.answer));
  else if (!trouble && ours.answer !== theirs.answer) trouble = "the answers differ";
  judge(words.join(" "), trouble, ` (${seconds.toFixed(2)} s, largest difference ${largest.toExponential(1)})`);
}

for (const folder of ["", "relay"]) {
  for (const name of readdirSync(join(repository, "data/demo", folder)).filter((one) => /\.(csv|json)$/.test(one))) {
    bring(join("demo", folder, name), readFileSync(join(repository, "data/demo", folder, name)));
  }
}
for (const words of [["check", "demo"], ["profile", "demo"], ["trend", "demo"], ["standings", "demo", "--by", "top-speed", "--cut", "6"],
  ["timers", "demo", "--device", "demo/watches.json"], ["relay", "demo", "demo/relay"], ["teams", "demo", "--teams", "2"],
  ["norms", "--distance", "20m", "--age", "8.6", "--sex", "F", "--time", "4.3"], ["plan", "demo", "--minutes", "40"],
  ["path", "--age", "11", "--sex", "F", "--course", "home-second", "--base-distance", "60ft"], ["report", "demo", "--each"]]) {
  sameAnswer([...words, "--format", "json"]);
}

// Hostile files: the same words, whatever they hold.
const seeds = join(repository, "tests/runs/problems");
let hostile = 0;
let unlike = "";
for (const name of readdirSync(seeds, { recursive: true }).filter((one) => statSync(join(seeds, one)).isFile())) {
  const bytes = readFileSync(join(seeds, name));
  bring("seed.csv", bytes);
  const words = ["check", "seed.csv", "--format", "json"];
  const ours = here(words);
  const theirs = there(words);
  ++hostile;
  if (!unlike && (ours.ended !== theirs.ended || (theirs.answer && differ(JSON.parse(ours.answer), JSON.parse(theirs.answer))))) unlike = name;
}
judge(hostile + " hostile files checked", hostile === 0 ? "there were none" : unlike);

// 40 players on 10 nights: room for them on a phone. Common practice, no source: 400 MB.
const rows = ["# base-distance: 60 ft", "date,player,course,trial,timer,first,second,third,home"];
for (let night = 0; night < 10; ++night) {
  for (let player = 1; player <= 40; ++player) {
    for (let run = 1; run <= 2; ++run) {
      const t = 3.9 + 0.02 * player + 0.03 * ((7 * night + 3 * run + player) % 5);
      rows.push([`2026-05-${String(night + 10)}`, player, "circuit", run, "AK", ...[1, 2, 3, 4].map((k) => (t * (1 + 0.97 * (k - 1))).toFixed(2))].join(","));
    }
  }
}
bring("large.csv", new TextEncoder().encode(rows.join("\n") + "\n"));
const started = performance.now();
const { ended } = here(["report", "large.csv"]);
const megabytes = program.HEAPU8.buffer.byteLength / 1048576;
judge("40 players on 10 nights", ended !== 0 ? "no report" : megabytes > 400 ? "too much memory" : "",
  ` (${((performance.now() - started) / 1000).toFixed(1)} s, ${megabytes.toFixed(0)} MB)`);
rmSync(work, { recursive: true, force: true });
process.exit(wrong ? 1 : 0);
