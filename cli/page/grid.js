// The grid of a night: a table a run, a line a player and watch. Says what was typed and where; judges nothing.
import { cellKey } from "./nights.js";

const element = (name, attributes = {}, ...content) => {
  const made = document.createElement(name);
  for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, value);
  made.append(...content);
  return made;
};

const markWords = (mark) => (mark.toLowerCase() === "move" ? "first move" : mark);

function cell(night, key, label, flags) {
  if (flags) {
    const select = element("select", { "data-key": key, "aria-label": label }, new Option("counts", ""));
    for (const flag of flags) select.append(new Option(flag.replace("-", " "), flag));
    select.value = night.get(key);
    return select;
  }
  const time = key.startsWith("t:");
  const input = element("input", { "data-key": key, "aria-label": label, autocomplete: "off", spellcheck: "false" });
  if (time) input.setAttribute("inputmode", "decimal");
  if (key.startsWith("player/") || time) input.setAttribute("autocapitalize", "off");
  input.value = night.get(key);
  return input;
}

function line(night, run, row, watch, flags) {
  const tr = element("tr", watch > 0 ? { class: "second" } : {});
  const who = night.player(row) || "of line " + (row + 1);
  const whose = "Player " + who + ", run " + run + (watch > 0 ? ", second watch" : "");
  if (watch > 0) {
    tr.append(element("td", { class: "who watch" }, night.setting("second")));
  } else if (run === 1) {
    const label = "Player of line " + (row + 1);
    tr.append(element("td", { class: "who" }, cell(night, cellKey("player", row, 0, 0), label)));
  } else {
    tr.append(element("td", { class: "who watch", "data-player": String(row) }, night.player(row) || "-"));
  }
  for (const mark of night.marks()) {
    tr.append(element("td", {}, cell(night, cellKey("t:" + mark, row, run, watch), whose + ", " + markWords(mark))));
  }
  tr.append(element("td", {}, cell(night, cellKey("flag", row, run, watch), whose + ", counts or why not", flags)));
  tr.append(element("td", { class: "note" }, cell(night, cellKey("note", row, run, watch), whose + ", note")));
  return tr;
}

/// Draws the whole grid anew.
export function drawGrid(place, night, flags) {
  place.replaceChildren();
  for (let run = 1; run <= night.count("runs"); ++run) {
    const heading = "Run " + run;
    const head = element("tr", {}, element("th", { scope: "col", class: "who" }, "Player"));
    for (const mark of night.marks()) head.append(element("th", { scope: "col" }, markWords(mark)));
    head.append(element("th", { scope: "col" }, "Counts?"), element("th", { scope: "col" }, "Note"));
    const body = element("tbody");
    for (let row = 0; row < night.count("rows"); ++row) {
      for (let watch = 0; watch < night.watches(); ++watch) body.append(line(night, run, row, watch, flags));
    }
    const table = element("table", { "aria-label": heading }, element("thead", {}, head), body);
    place.append(element("div", { class: "run" }, element("h3", {}, heading), element("div", { class: "board" }, table)));
  }
}

/// Shows what is said of cells: beside each, in the row under it.
/// @param said  [{key, row, run, watch, severity, text}]
export function showSaid(place, said, settingsPlace) {
  for (const old of place.querySelectorAll("tr.talk")) old.remove();
  for (const marked of document.querySelectorAll("[data-key].error, [data-key].suspicion, [data-setting].error")) {
    marked.classList.remove("error", "suspicion");
    marked.removeAttribute("aria-invalid");
    marked.removeAttribute("aria-describedby");
  }
  settingsPlace.replaceChildren();
  said.forEach((one, number) => {
    const words = element("p", { id: "said-" + number, class: "of-" + one.severity }, one.text);
    const input = one.key.startsWith("set/")
      ? document.querySelector('[data-setting="' + one.key.slice(4) + '"]')
      : place.querySelector('[data-key="' + CSS.escape(one.key) + '"]');
    if (input && one.severity !== "note") {
      input.classList.add(one.severity);
      if (one.severity === "error") input.setAttribute("aria-invalid", "true");
      input.setAttribute("aria-describedby", "said-" + number);
    }
    const tr = one.row === undefined || one.key.startsWith("set/") ? null : rowOf(place, one);
    if (!tr) {
      settingsPlace.append(words);
      return;
    }
    let talk = tr.nextElementSibling;
    if (!talk || !talk.classList.contains("talk")) {
      talk = element("tr", { class: "talk" }, element("td", { colspan: "40", class: "says" }));
      tr.after(talk);
    }
    talk.firstChild.append(words);
  });
}

function rowOf(place, { row, run, watch }) {
  const note = place.querySelector('[data-key="' + CSS.escape(cellKey("note", row, run, watch)) + '"]');
  return note && note.closest("tr");
}

// The cells of a table, line by line.
const linesOf = (table) =>
  [...table.querySelectorAll("tbody tr:not(.talk)")].map((tr) => [...tr.querySelectorAll("td")].map((td) => td.firstElementChild));

function positionOf(input) {
  const lines = linesOf(input.closest("table"));
  const y = lines.findIndex((cells) => cells.includes(input));
  return { lines, y, x: lines[y].indexOf(input) };
}

let entered = null;  // the column in which the hand came into the line: where Enter goes on below

export function noteEntry(input, byTab) {
  if (!byTab || entered === null) entered = positionOf(input).x;
}

const select = (input) => {
  input.focus();
  if (input.select) input.select();
};

/// Moves the hand.  @return whether the key was one that moves it
export function moveHand(event, place) {
  const input = event.target;
  const isSelect = input.tagName === "SELECT";
  const { lines, y, x } = positionOf(input);
  let to = null;
  if (event.key === "Enter") {
    const column = event.shiftKey ? x : entered ?? x;
    to = below(lines, y, column, event.shiftKey ? -1 : 1);
    if (!to && !event.shiftKey) to = firstOfNextRun(input, place, column);
  } else if (event.key === "ArrowDown" && !isSelect) to = below(lines, y, x, 1);
  else if (event.key === "ArrowUp" && !isSelect) to = below(lines, y, x, -1);
  else return false;
  if (to) {
    const column = entered;
    select(to);
    if (event.key === "Enter") entered = column;
  }
  return true;
}

function below(lines, y, x, step) {
  for (let at = y + step; at >= 0 && at < lines.length; at += step) {
    if (lines[at][x]) return lines[at][x];
  }
  return null;
}

function firstOfNextRun(input, place, column) {
  const tables = [...place.querySelectorAll("table")];
  const next = tables[tables.indexOf(input.closest("table")) + 1];
  if (!next) return null;
  const lines = linesOf(next);
  return lines[0][column] ?? lines[0].find(Boolean);
}

/// What stands on the clipboard, laid into the cells from `input` to the right and down.
/// @return {cells: [[key, text]], lines}: how many lines of players the table must have at least
export function pasted(input, text) {
  const { lines, y, x } = positionOf(input);
  const rows = text.replace(/\r\n?/g, "\n").replace(/\n$/, "").split("\n").map((one) => one.split("\t"));
  const cells = [];
  rows.forEach((row, j) => {
    const like = lines[Math.min(y + j, lines.length - 1)];
    row.forEach((value, i) => {
      const target = y + j < lines.length ? lines[y + j][x + i] : null;
      if (target) {
        cells.push([target.dataset.key, value.trim()]);
      } else if (y + j >= lines.length && like[x + i]) {
        const [field, , run, watch] = like[x + i].dataset.key.split("/");
        cells.push([[field, String(y + j), run, watch].join("/"), value.trim()]);
      }
    });
  });
  return { cells, lines: y + rows.length };
}
