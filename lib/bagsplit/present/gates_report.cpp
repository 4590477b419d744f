#include "bagsplit/present/gates_report.hpp"

#include "bagsplit/present/json_writer.hpp"
#include "bagsplit/present/number_text.hpp"
#include "bagsplit/present/problem_text.hpp"
#include "bagsplit/present/text_table.hpp"
#include "bagsplit/present/text_width.hpp"
#include "bagsplit/runs/log_summary.hpp"
#include "bagsplit/runs/typed.hpp"

namespace bagsplit::present {

namespace {

double seconds(std::int64_t ns) {
  return static_cast<double>(ns) / 1e9;
}

}  // namespace

std::string gates_counts(const timing::GateCounts& counts) {
  std::string out = counted(counts.passages, "passage") + ", " + counted(counts.runs, "run");
  const auto add = [&](std::size_t count, const std::string& words) {
    out += count == 0 ? "" : "; " + std::to_string(count) + " " + words;
  };
  add(counts.in_doubt, "in doubt, flagged void");
  add(counts.double_triggers, "broken twice by one body");
  add(counts.missed_beams, "missed by a beam");
  add(counts.strays, "of nobody, left out");
  add(counts.overtakings, "overtaking");
  add(counts.not_written, "without a player, left out");
  add(counts.no_start, "on the list without a start");
  return out;
}

std::string gates_text(const timing::GateRuns& runs, const timing::GateMap& map, const TextOptions& options) {
  std::vector<TextTable::Column> columns{{"player", {}, Align::left}, {"clock", "s"}};
  for (const timing::GatePlace& place : map.places) {
    columns.push_back({place.mark, "s"});
  }
  columns.push_back({"flag", {}, Align::left});
  columns.push_back({"note", {}, Align::left, true});
  TextTable table(columns);
  for (const timing::GateRun& run : runs.runs) {
    std::vector<std::string> cells{run.player, run.start_line == 0 ? "-" : fixed(seconds(run.start_ns), 2)};
    for (std::size_t k = 0; k < map.places.size(); ++k) {
      cells.push_back(k < run.at_ns.size() && run.at_ns[k] ? fixed(seconds(*run.at_ns[k]), 3) : "-");
    }
    cells.emplace_back(runs::flag_name(run.flag));
    cells.push_back(run.note);
    table.add_row(std::move(cells));
  }
  return paragraph("Gates on " + printable(map.course) + ": " + gates_counts(runs.counts) + ".", options.width) + "\n" +
         table.str(options);
}

std::string gates_json(const timing::GateRuns& runs, const timing::GateMap& map, runs::Date date,
                       const runs::Problems& problems) {
  JsonWriter json;
  json.begin_object()
      .member("schema", "bagsplit.gates/1")
      .member("course", map.course)
      .member("date", runs::format_date(date));
  json.key("marks").begin_array();
  for (const timing::GatePlace& place : map.places) {
    json.begin_object(JsonWriter::Layout::line)
        .member("mark", place.mark)
        .member("gate", place.gate)
        .member("distance_m", place.distance_m)
        .end_object();
  }
  json.end_array().key("runs").begin_array();
  for (const timing::GateRun& run : runs.runs) {
    json.begin_object(JsonWriter::Layout::line).member("player", run.player).key("start_s");
    run.start_line == 0 ? json.null() : json.number(seconds(run.start_ns));
    json.key("start_line");
    run.start_line == 0 ? json.null() : json.count(run.start_line);
    json.key("times_s").begin_object(JsonWriter::Layout::line);
    for (std::size_t k = 0; k < map.places.size(); ++k) {
      json.member(map.places[k].mark,
                  k < run.at_ns.size() && run.at_ns[k] ? std::optional(seconds(*run.at_ns[k])) : std::nullopt);
    }
    json.end_object()
        .member("flag", runs::flag_name(run.flag))
        .member("in_doubt", run.in_doubt)
        .member("note", run.note)
        .end_object();
  }
  json.end_array().key("counts").begin_object();
  const timing::GateCounts& counts = runs.counts;
  for (const auto& [name, count] : {std::pair<const char*, std::size_t>{"passages", counts.passages},
                                    {"runs", counts.runs},
                                    {"in_doubt", counts.in_doubt},
                                    {"double_triggers", counts.double_triggers},
                                    {"missed_beams", counts.missed_beams},
                                    {"strays", counts.strays},
                                    {"overtakings", counts.overtakings},
                                    {"not_written", counts.not_written},
                                    {"no_start", counts.no_start}}) {
    json.key(name).count(count);
  }
  json.end_object().key("problems").raw(problems_json(problems));
  return json.end_object().take();
}

}  // namespace bagsplit::present
