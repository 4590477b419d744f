#include "bagsplit/present/gates_report.hpp"

#include "bagsplit/present/text/problem_text.hpp"
#include "bagsplit/runs/log/log_summary.hpp"
#include "bagsplit/runs/typed.hpp"
#include "bagsplit/text/json_writer.hpp"
#include "bagsplit/text/number_text.hpp"
#include "bagsplit/text/text_table.hpp"
#include "bagsplit/text/text_width.hpp"

namespace bagsplit::present {

namespace {

double seconds(std::int64_t ns) {
  return static_cast<double>(ns) / 1e9;
}

}  // namespace

std::string gates_counts(const gates::GateCounts& counts) {
  std::string out = text::counted(counts.passages, "passage") + ", " + text::counted(counts.runs, "run");
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

std::string gates_text(const gates::GateRuns& runs, const gates::GateMap& map, const text::TextOptions& options) {
  std::vector<text::TextTable::Column> columns{{"player", {}, text::Align::left}, {"clock", "s"}};
  for (const gates::GatePlace& place : map.places) {
    columns.push_back({place.mark, "s"});
  }
  columns.push_back({"flag", {}, text::Align::left});
  columns.push_back({"note", {}, text::Align::left, true});
  text::TextTable table(columns);
  for (const gates::GateRun& run : runs.runs) {
    std::vector<std::string> cells{run.player, run.start_line == 0 ? "-" : text::fixed(seconds(run.start_ns), 2)};
    for (std::size_t k = 0; k < map.places.size(); ++k) {
      cells.push_back(k < run.at_ns.size() && run.at_ns[k] ? text::fixed(seconds(*run.at_ns[k]), 3) : "-");
    }
    cells.emplace_back(runs::flag_name(run.flag));
    cells.push_back(run.note);
    table.add_row(std::move(cells));
  }
  return text::paragraph("Gates on " + text::printable(map.course) + ": " + gates_counts(runs.counts) + ".",
                         options.width) +
         "\n" + table.str(options);
}

std::string gates_json(const gates::GateRuns& runs, const gates::GateMap& map, runs::Date date,
                       const text::Problems& problems) {
  text::JsonWriter json;
  json.begin_object()
      .member("schema", "bagsplit.gates/1")
      .member("course", map.course)
      .member("date", runs::format_date(date));
  json.key("marks").begin_array();
  for (const gates::GatePlace& place : map.places) {
    json.begin_object(text::JsonWriter::Layout::line)
        .member("mark", place.mark)
        .member("gate", place.gate)
        .member("distance_m", place.distance_m)
        .end_object();
  }
  json.end_array().key("runs").begin_array();
  for (const gates::GateRun& run : runs.runs) {
    json.begin_object(text::JsonWriter::Layout::line).member("player", run.player).key("start_s");
    run.start_line == 0 ? json.null() : json.number(seconds(run.start_ns));
    json.key("start_line");
    run.start_line == 0 ? json.null() : json.count(run.start_line);
    json.key("times_s").begin_object(text::JsonWriter::Layout::line);
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
  const gates::GateCounts& counts = runs.counts;
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
