// A night as typed: settings, and a text in each cell. It is written as the run log the command reads; what is wrong
// with a cell is for the library to say.

/// Names of the settings, with what stands there at first.
export const settings = {
  date: "", course: "circuit", marks: "first, second, third, home", base: "60 ft", place: "", device: "stopwatch",
  start: "signal", posture: "standing", splits: "cumulative", timer: "", second: "", runs: "1", rows: "8",
};

export class Night {
  /// @param id  of this night on this device
  constructor(id, cells = new Map()) {
    this.id = id;
    this.cells = cells;  // by "field/row/run/watch" or "set/name"
  }

  get(key) { return this.cells.get(key) ?? ""; }
  set(key, text) { if (text === "") this.cells.delete(key); else this.cells.set(key, text); }
  setting(name) { return this.cells.get("set/" + name) ?? settings[name]; }
  count(name) { return Number.parseInt(this.setting(name), 10); }
  marks() { return this.setting("marks").split(/[,;|/\s]+/).filter(Boolean); }
  watches() { return this.setting("second") === "" ? 1 : 2; }
  player(row) { return this.get(cellKey("player", row, 0, 0)).trim(); }
  isEmpty() { return ![...this.cells.keys()].some((key) => !key.startsWith("set/")); }
  fileName() { return "typed/" + (this.setting("date") || "no-date") + "-" + this.id + ".csv"; }
}

export const cellKey = (field, row, run, watch) => [field, row, run, watch].join("/");

// A cell of the log: quoted where it must be; never a formula for a spreadsheet.
function quoted(text) {
  const safe = /^[=+\-@\t\r]/.test(text) ? "'" + text : text;
  return /[",\r\n]|^ | $/.test(safe) ? '"' + safe.replaceAll('"', '""') + '"' : safe;
}

// Among cells of times a single comma between digits is a decimal one.
const withPoint = (text) => text.replace(/^(\s*(?:\d+:)?\d+),(\d+\s*)$/, "$1.$2");

function rowIsTyped(night, row, run, watch) {
  const fields = [...night.marks().map((mark) => "t:" + mark), "flag", "note"];
  return fields.some((field) => night.get(cellKey(field, row, run, watch)).trim() !== "");
}

/// The run log, and where each of its cells is on the page.
/// @return {text, places: [{line, from, to, key}]}, line and column from 1
export function asLog(night) {
  const marks = night.marks();
  const lines = [];
  const places = [];
  const settingLine = (name, text, key) => {
    if (text === "") return;
    lines.push("# " + name + ": " + text);
    places.push({ line: lines.length, from: 0, to: 100000, key: "set/" + key });
  };
  settingLine("base-distance", night.setting("base").trim(), "base");
  settingLine("place", night.setting("place").trim().replace(/[\r\n]/g, " "), "place");
  for (const name of ["device", "start", "posture", "splits"]) {
    if (night.setting(name) !== settings[name]) settingLine(name, night.setting(name), name);
  }
  lines.push(["date", "player", "course", "trial", "timer", ...marks.map(quoted), "flag", "note"].join(","));
  places.push({ line: lines.length, from: 0, to: 100000, key: "set/marks" });
  for (let run = 1; run <= night.count("runs"); ++run) {
    for (let row = 0; row < night.count("rows"); ++row) {
      for (let watch = 0; watch < night.watches(); ++watch) {
        if (!rowIsTyped(night, row, run, watch)) continue;
        const cells = [
          ["set/date", night.setting("date")],
          [cellKey("player", row, 0, 0), night.player(row)],
          ["set/course", night.setting("course")],
          [cellKey("player", row, 0, 0), String(run)],
          ["set/" + (watch === 0 ? "timer" : "second"), night.setting(watch === 0 ? "timer" : "second").trim()],
          ...marks.map((mark) => {
            const key = cellKey("t:" + mark, row, run, watch);
            return [key, withPoint(night.get(key).trim())];
          }),
          ...["flag", "note"].map((field) => {
            const key = cellKey(field, row, run, watch);
            return [key, night.get(key).replace(/[\r\n]+/g, " ")];
          }),
        ];
        let line = "";
        cells.forEach(([key, text], k) => {
          const from = [...line].length + (k > 0 ? 2 : 1);
          line += (k > 0 ? "," : "") + quoted(text);
          places.push({ line: lines.length + 1, from, to: [...line].length + 1, key, row, run, watch });
        });
        lines.push(line);
      }
    }
  }
  return { text: lines.join("\n") + "\n", places };
}

/// The cell a problem of the log is about, or nothing.
export function placeOf(places, problem) {
  const here = places.filter((place) => place.line === problem.line);
  return here.find((place) => problem.column >= place.from && problem.column < place.to) ?? here[1] ?? here[0];
}
