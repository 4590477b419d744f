// The page: what is typed, opened, shown and kept. It asks the program for every judgement and every number.
import { drawGrid, moveHand, noteEntry, pasted, showSaid } from "./grid.js";
import { asLog, cellKey, Night, placeOf, settings } from "./nights.js";
import { ask, askForFolder, demoFiles, putFile, removeFile, startProgram } from "./program.js";
import { forgetAll, isShared, keep, kept, openStore } from "./store.js";

const $ = (id) => document.getElementById(id);
const say = (id, text) => { $(id).textContent = text; };

let choices = { courses: [], postures: [], flags: [] };
let nights = [];
let night = null;
let opened = new Map();  // name: bytes
let noStore = "";
let shown = { name: "", html: "" };

// ---- what is kept

let unsaved = new Map();
let keeping = null;

function tellKept(text, lost = false) {
  say("kept", text);
  $("kept").className = lost ? "bad" : "";
  $("save-now").hidden = !lost;
}

function markCells(keys, word) {
  for (const key of keys) {
    const [id, cell] = key.split("|");
    const input = night && night.id === id && $("grid").querySelector('[data-key="' + CSS.escape(cell) + '"]');
    if (input) input.dataset.kept = word;
  }
}

async function keepAll() {
  while (unsaved.size > 0) {
    const now = [...unsaved];
    unsaved = new Map();
    try {
      await keep(now);
      markCells(now.map(([key]) => key).filter((key) => !unsaved.has(key)), "yes");
    } catch (error) {
      for (const [key, text] of now) if (!unsaved.has(key)) unsaved.set(key, text);
      noStore = error.message;
      tellKept("NOT kept: " + noStore + ".", true);
      return;
    }
  }
  tellKept("kept: everything typed is on this device.");
}

function keepSoon() {
  keeping ??= Promise.resolve().then(keepAll).finally(() => {
    keeping = null;
    if (unsaved.size > 0 && !noStore) keepSoon();
  });
}

function change(key, text) {
  night.set(key, text);
  const full = night.id + "|" + key;
  if (noStore) {
    tellKept("NOT kept: " + noStore + ".", true);
    return;
  }
  unsaved.set(full, text);
  markCells([full], "no");
  tellKept("keeping ...");
  keepSoon();
}

// ---- what is judged

const inWords = (p) => p.message + (p.read ? ': "' + p.read + '"' : "") + (p.expected ? ". Expected: " + p.expected : "") +
  (p.hint ? ". " + p.hint[0].toUpperCase() + p.hint.slice(1) : "");

const rosterWords = () => {
  const roster = [...opened.keys()].find((name) => name.split("/").pop().toLowerCase() === "roster.csv");
  return roster ? ["--roster", roster] : [];
};
const openedLogs = () => [...opened.keys()].filter((name) => name.split("/").pop().toLowerCase() !== "roster.csv" && /\.csv$/i.test(name));
const typedNights = () => nights.filter((one) => !one.isEmpty());
const allLogs = () => [...typedNights().map((one) => one.fileName()), ...openedLogs()];

let judging = 0;

async function judge() {
  const mine = ++judging;
  const { text, places } = asLog(night);
  const name = night.fileName();
  await putFile(name, new TextEncoder().encode(text));
  const { answer, talk } = night.isEmpty() ? { answer: '{"problems": []}', talk: "" }
    : await ask("check", name, ...rosterWords(), "--format", "json");
  if (mine !== judging) return;
  let problems = [];
  try { problems = JSON.parse(answer).problems; } catch { say("see-says", talk); }
  const said = problems.filter((p) => p.path === name).map((p) => {
    const place = placeOf(places, p);
    return { key: "set/", severity: p.severity, text: inWords(p), ...place };
  });
  showSaid($("grid"), said, $("setting-says"));
}

let soon = 0;
function judgeSoon() {
  clearTimeout(soon);
  soon = setTimeout(() => judge().catch(trouble), 200);
}

const trouble = (error) => say("state", "Something went wrong: " + error.message + ". What was kept is kept; open the page anew.");

// ---- nights

function drawNights() {
  $("night").replaceChildren(...nights.map((one, k) => {
    const words = (one.setting("date") || "no date") + ", " + one.setting("course") + (one.setting("place") ? ", " + one.setting("place") : "");
    return new Option((k + 1) + ": " + words, one.id, false, one === night);
  }));
}

function draw() {
  drawNights();
  for (const input of document.querySelectorAll("[data-setting]")) input.value = night.setting(input.dataset.setting);
  drawGrid($("grid"), night, choices.flags);
  if (!noStore) for (const input of $("grid").querySelectorAll("[data-key]")) if (night.get(input.dataset.key)) input.dataset.kept = "yes";
}

function today() {
  const now = new Date();
  return [now.getFullYear(), String(now.getMonth() + 1).padStart(2, "0"), String(now.getDate()).padStart(2, "0")].join("-");
}

function newNight() {
  const ids = nights.map((one) => Number(one.id));
  const made = new Night(String(Math.max(0, ...ids) + 1));
  const before = night;
  nights.push(made);
  night = made;
  change("set/date", today());
  if (before) {
    for (const name of Object.keys(settings)) {
      if (name !== "date" && before.cells.has("set/" + name)) change("set/" + name, before.setting(name));
    }
    for (let row = 0; row < before.count("rows"); ++row) change(cellKey("player", row, 0, 0), before.player(row));
  }
  draw();
}

function useSetting(input) {
  const name = input.dataset.setting;
  if (name === "date") removeFile(night.fileName()).catch(trouble);
  change("set/" + name, input.value === settings[name] ? "" : input.value);
  if (name === "course") {
    const course = choices.courses.find((one) => one.name === input.value);
    if (course && course.marks.length > 0) change("set/marks", course.marks.join(", "));
    else change("set/marks", "10yd, 20yd");
  }
  if (["course", "marks", "second"].includes(name)) draw();
  else drawNights();
  judgeSoon();
}

const addRows = (count) => change("set/rows", String(count));

function listenToGrid() {
  const grid = $("grid");
  let byTab = false;
  grid.addEventListener("keydown", (event) => {
    byTab = event.key === "Tab" && !event.shiftKey;
    if (event.target.dataset.key && moveHand(event, grid)) event.preventDefault();
  });
  grid.addEventListener("pointerdown", () => { byTab = false; });
  grid.addEventListener("focusin", (event) => {
    if (event.target.dataset.key) noteEntry(event.target, byTab);
  });
  grid.addEventListener("input", ({ target }) => {
    change(target.dataset.key, target.value);
    if (target.dataset.key.startsWith("player/")) {
      const row = target.dataset.key.split("/")[1];
      for (const td of grid.querySelectorAll('[data-player="' + row + '"]')) td.textContent = target.value || "-";
    }
    judgeSoon();
  });
  grid.addEventListener("paste", (event) => {
    const text = event.clipboardData.getData("text/plain");
    if (!/[\t\n]/.test(text.trim()) || !event.target.dataset.key) return;
    event.preventDefault();
    const { cells, lines } = pasted(event.target, text);
    if (lines > night.count("rows") && night.watches() === 1) addRows(lines);
    for (const [key, value] of cells) change(key, value);
    draw();
    judgeSoon();
  });
}

// ---- files

const cleanName = (name) => name.replace(/^\/+/, "").split("/").filter((part) => part && part !== "..").join("/");

async function openFiles(files) {
  for (const [name, bytes] of files) {
    const clean = cleanName(name);
    if (!/\.csv$/i.test(clean)) continue;
    // Of two rosters the one opened last counts.
    const isRoster = clean.split("/").pop().toLowerCase() === "roster.csv";
    for (const other of opened.keys()) {
      if (isRoster && other !== clean && other.split("/").pop().toLowerCase() === "roster.csv") {
        opened.delete(other);
        await removeFile(other);
      }
    }
    opened.set(clean, bytes);
    await putFile(clean, bytes);
  }
  await tellFiles();
}

async function tellFiles() {
  $("opened").replaceChildren(...[...opened.keys()].map((name) => Object.assign(document.createElement("li"), { textContent: name })));
  $("close-files").hidden = opened.size === 0;
  $("roster-players").hidden = rosterWords().length === 0;
  const place = $("file-says");
  place.replaceChildren();
  if (opened.size > 0) {
    const logs = openedLogs();
    const { answer, talk } = await ask("check", ...logs, ...rosterWords(), "--format", "json");
    const lines = [];
    try {
      const said = JSON.parse(answer);
      lines.push(["note", said.runs + " runs of " + said.players + " players on " + said.dates.count + " dates."]);
      for (const p of said.problems.filter((one) => one.severity !== "note").slice(0, 50)) {
        lines.push([p.severity, p.path + (p.line ? ", line " + p.line : "") + ": " + inWords(p)]);
      }
    } catch {
      lines.push(["error", logs.length === 0 ? "A roster alone: open a run log too, or type a night." : talk]);
    }
    for (const [severity, text] of lines) {
      place.append(Object.assign(document.createElement("p"), { className: "of-" + severity, textContent: text }));
    }
  }
  await offerChoices();
  judgeSoon();
}

async function filesOf(list) {
  const files = [];
  for (const file of list) files.push([file.webkitRelativePath || file.name, new Uint8Array(await file.arrayBuffer())]);
  return files;
}

async function dropped(items) {
  const files = [];
  const walk = async (entry) => {
    if (entry.isFile) {
      const file = await new Promise((resolve, reject) => entry.file(resolve, reject));
      files.push([entry.fullPath, new Uint8Array(await file.arrayBuffer())]);
    } else {
      const reader = entry.createReader();
      for (;;) {
        const some = await new Promise((resolve, reject) => reader.readEntries(resolve, reject));
        if (some.length === 0) break;
        for (const one of some) await walk(one);
      }
    }
  };
  for (const entry of items) await walk(entry);
  return files;
}

function listenToFiles() {
  for (const id of ["files", "folder"]) {
    $(id).addEventListener("change", async () => {
      await openFiles(await filesOf($(id).files)).catch(trouble);
      $(id).value = "";
    });
  }
  $("demo").addEventListener("click", async () => openFiles(await demoFiles()).catch(trouble));
  $("close-files").addEventListener("click", async () => {
    for (const name of opened.keys()) await removeFile(name);
    opened = new Map();
    await tellFiles();
  });
  document.addEventListener("dragover", (event) => { event.preventDefault(); document.body.classList.add("dropping"); });
  document.addEventListener("dragleave", () => document.body.classList.remove("dropping"));
  document.addEventListener("drop", async (event) => {
    event.preventDefault();
    document.body.classList.remove("dropping");
    const entries = [...event.dataTransfer.items].map((item) => item.webkitGetAsEntry && item.webkitGetAsEntry()).filter(Boolean);
    const files = entries.length > 0 ? await dropped(entries) : await filesOf(event.dataTransfer.files);
    await openFiles(files).catch(trouble);
    location.hash = "#open";
  });
}

// ---- pages

const valuesOf = async (...words) => (await ask("--values", "report", ...words)).answer.split("\n").filter(Boolean);

async function offerChoices() {
  const files = [...allLogs(), ...rosterWords()];
  const fill = (select, values, first) => {
    const before = select.value;
    select.replaceChildren(...first, ...values.map((value) => new Option(value, value)));
    if ([...select.options].some((option) => option.value === before)) select.value = before;
  };
  if (files.length === 0) return;
  fill($("child"), await valuesOf("--player", ...files), []);
  const quantities = await valuesOf("--by", ...allLogs());
  fill($("by"), quantities.filter((one) => one !== "index"), [new Option("the time most have", "")]);
}

function useKind() {
  const kind = $("kind").value;
  for (const one of document.querySelectorAll("[data-for]")) {
    const wanted = one.dataset.for;
    one.hidden = wanted === "names" ? rosterWords().length === 0 : wanted !== kind;
  }
}

function questionOf(kind) {
  const words = ["report", ...allLogs(), ...rosterWords()];
  if (kind === "child") words.push("--player", $("child").value);
  if (kind === "each") words.push("--each");
  if (kind === "relay") words.push("--relay");
  if (kind === "day") {
    words.push("--evaluation");
    if ($("cut").value.trim()) words.push("--cut", $("cut").value.trim());
    if ($("by").value) words.push("--by", $("by").value);
  }
  if ($("names").checked && rosterWords().length > 0) words.push("--names");
  return words;
}

// What the command says is for a shell; here the lines that a coach can use.
const talkInWords = (talk) => talk.split("\n").filter((one) => one && !/^bagsplit: (no roster|using the roster)/.test(one))
  .map((one) => one.replace(/^bagsplit( report)?: /, "").replace(/--cut\b/g, "places in the team").replace(/ ?\(--[^)]*\)/g, "")).join("\n");

async function show() {
  if (allLogs().length === 0) {
    say("see-says", "Nothing to show yet: type a night, or open a run log.");
    return;
  }
  const kind = $("kind").value;
  if (kind === "child" && !$("child").value) await offerChoices();
  say("see-says", "Working ...");
  $("show").disabled = true;
  const started = performance.now();
  for (const one of typedNights()) await putFile(one.fileName(), new TextEncoder().encode(asLog(one).text));
  const { ended, answer, talk } = await ask(...questionOf(kind)).finally(() => { $("show").disabled = false; });
  if (ended !== 0) {
    say("see-says", "No page: " + talkInWords(talk));
    return;
  }
  const seconds = ((performance.now() - started) / 1000).toFixed(1);
  say("see-says", "Here it is, after " + seconds + " s." + (rosterWords().length ? "" : " Without a roster nobody's age is known, so nothing is held against children of the same age."));
  shown = { name: kind === "child" ? "child-" + $("child").value : kind, html: answer };
  const frame = $("answer");
  frame.hidden = false;
  frame.onload = () => {
    const inside = frame.contentDocument;
    frame.style.height = Math.min(inside.documentElement.scrollHeight + 20, 30000) + "px";
    if (kind === "weeks") {
      const heading = [...inside.querySelectorAll("h2")].find((h) => /weeks/i.test(h.textContent));
      if (heading) heading.scrollIntoView();
      else say("see-says", "One date only: nothing to compare across weeks yet. Here is the squad.");
    }
  };
  frame.srcdoc = answer;
  $("print").disabled = false;
  $("save-page").disabled = false;
}

function download(name, text, type) {
  const link = document.createElement("a");
  link.href = URL.createObjectURL(new Blob([text], { type }));
  link.download = name;
  link.click();
  setTimeout(() => URL.revokeObjectURL(link.href), 10000);
}

async function saveEach() {
  say("see-says", "Working ...");
  const { ended, talk, files } = await askForFolder(...questionOf("each"));
  for (const [name, text] of files) {
    download(name, text, "text/html");
    await new Promise((done) => setTimeout(done, 200));  // browsers drop what comes too fast
  }
  say("see-says", ended === 0 ? files.length + " files: index.html is the coach's; give each family its own child's only."
    : "No pages: " + talkInWords(talk));
}

function listenToSee() {
  $("save-each").addEventListener("click", () => saveEach().catch(trouble));
  $("kind").addEventListener("change", useKind);
  $("show").addEventListener("click", () => show().catch(trouble));
  $("print").addEventListener("click", () => $("answer").contentWindow.print());
  $("save-page").addEventListener("click", () =>
    download(shown.name.replace(/[^\w-]+/g, "-") + ".html", shown.html, "text/html"));
  new IntersectionObserver((seen) => { if (seen[0].isIntersecting) offerChoices().then(useKind, trouble); }).observe($("kind"));
}

// ---- keeping

function saveLog(one) {
  download(one.fileName().split("/").pop(), asLog(one).text, "text/csv");
}

function tellStorage() {
  if (noStore) {
    say("storage", "Nothing can be kept here: " + noStore + ". What is typed is lost with the page: save it as a run log.");
    $("storage").className = "bad";
  } else if (isShared()) {
    say("storage", "This page was opened as a file: pages opened from other files on this device may be able to read what is kept. " +
      "On a device that others use, save a run log and forget everything here.");
  }
}

function listenToKeep() {
  for (const id of ["save-log", "save-now"]) $(id).addEventListener("click", () => saveLog(night));
  $("save-all").addEventListener("click", () => typedNights().forEach(saveLog));
  $("keep-roster").addEventListener("change", async () => {
    const [, name] = rosterWords();
    const wanted = $("keep-roster").checked;
    try {
      if (wanted && !name) throw new Error("no roster is open");
      await keep([["roster.csv", wanted ? opened.get(name) : undefined]], "files");
      say("keep-says", wanted ? "The roster is kept on this device." : "No roster is kept any more.");
    } catch (error) {
      $("keep-roster").checked = !wanted;
      say("keep-says", "Not done: " + error.message + ".");
    }
  });
  $("forget").addEventListener("click", async () => {
    if (!confirm("Forget every night typed here, and the roster? This cannot be undone.")) return;
    try {
      if (keeping) await keeping;
      await forgetAll();
      for (const name of [...opened.keys(), ...nights.map((one) => one.fileName())]) await removeFile(name);
      noStore = await openStore();
      opened = new Map();
      nights = [];
      night = null;
      unsaved = new Map();
      $("keep-roster").checked = false;
      newNight();
      if (keeping) await keeping;
      $("answer").hidden = true;
      $("answer").srcdoc = "";
      await tellFiles();
      say("keep-says", "Everything is forgotten: nothing typed here is left on this device.");
    } catch (error) {
      say("keep-says", "Not forgotten: " + error.message + ". Close other copies of this page and try again.");
    }
  });
}

// ---- start

function restore(cells) {
  const byNight = new Map();
  for (const [full, text] of cells) {
    const [id, key] = full.split("|");
    if (!byNight.has(id)) byNight.set(id, new Map());
    byNight.get(id).set(key, text);
  }
  nights = [...byNight].map(([id, all]) => new Night(id, all)).sort((a, b) => Number(a.id) - Number(b.id));
  night = nights.at(-1) ?? null;
}

function offerDrills() {
  const course = document.querySelector('[data-setting="course"]');
  course.replaceChildren(...choices.courses.map((one) => new Option(one.name.replaceAll("-", " "), one.name)));
  const posture = document.querySelector('[data-setting="posture"]');
  posture.replaceChildren(...choices.postures.map((one) => new Option(one, one)));
}

async function start() {
  [choices, noStore] = await Promise.all([startProgram(), openStore()]);
  restore(await kept());
  offerDrills();
  tellStorage();
  if (!night) newNight();
  else draw();
  for (const one of nights) await putFile(one.fileName(), new TextEncoder().encode(asLog(one).text));
  $("night").addEventListener("change", () => {
    night = nights.find((one) => one.id === $("night").value);
    draw();
    judgeSoon();
  });
  $("new-night").addEventListener("click", () => { newNight(); judgeSoon(); });
  $("settings").parentElement.addEventListener("change", ({ target }) => { if (target.dataset.setting) useSetting(target); });
  $("more-runs").addEventListener("click", () => { change("set/runs", String(night.count("runs") + 1)); draw(); judgeSoon(); });
  $("more-players").addEventListener("click", () => { addRows(night.count("rows") + 8); draw(); judgeSoon(); });
  $("roster-players").addEventListener("click", async () => {
    const ids = await valuesOf("--player", ...rosterWords());
    if (ids.length > night.count("rows")) addRows(ids.length);
    ids.forEach((id, row) => { if (!night.player(row)) change(cellKey("player", row, 0, 0), id); });
    draw();
    judgeSoon();
  });
  listenToGrid();
  listenToFiles();
  listenToSee();
  listenToKeep();
  const roster = (await kept("files")).get("roster.csv");
  if (roster) {
    $("keep-roster").checked = true;
    await openFiles([["roster.csv", roster]]);
  }
  useKind();
  await offerChoices();
  judgeSoon();
  say("state", "Ready. It works without a network.");
  document.documentElement.dataset.ready = "yes";
}

start().catch((error) => say("state", "This browser cannot run the page: " + error.message + ". A browser of 2023 or later is needed."));
