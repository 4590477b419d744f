#include <algorithm>
#include <iostream>

#include "bagsplit/gates/gate_runs.hpp"
#include "bagsplit/jobs/expected_times.hpp"
#include "bagsplit/present/gates_report.hpp"
#include "bagsplit/runs/files.hpp"
#include "bagsplit/runs/log/run_log.hpp"
#include "bagsplit/runs/typed.hpp"
#include "bagsplit/text/text_width.hpp"
#include "command_line.hpp"
#include "declare.hpp"
#include "input.hpp"
#include "running_order.hpp"
#include "session.hpp"

namespace bagsplit::cli {

namespace {

void declare(Options& app, Invocation& invocation) {
  GatesRequest& request = invocation.gates;
  declare_files(app, "LOG", invocation.input.logs,
                {purpose::input, "", "The gate log (CSV: gate,time), or - for standard input", "none"});
  declare_text(app, "--starts",
               {purpose::input, "FILE",
                "Start list (CSV: player, in the order of starting; time, trial, flag, note; keys everybody-ran, "
                "nobody, unknown)",
                "must be given"},
               [&request](const std::string& text) { request.starts = text; });
  declare_text(
      app, "--map",
      {purpose::input, "FILE", "Gate map (CSV: gate,mark; keys course, start, base-distance)", "must be given"},
      [&request](const std::string& text) { request.map = text; });
  declare_list(app, "--courses", invocation.input.courses,
               {purpose::input, "FILE", "Courses of your own (JSON); may be given several times", "the built-in ones"});
  declare_list(app, "--before", request.before,
               {purpose::input, "LOG",
                "Earlier logs or folders: how fast each child is tells who ran; may be given several times", "none"});
  declare_text(app, "--roster",
               {purpose::input, "FILE", "Who the players are (CSV): age and sex tell a little of who ran", "none"},
               [&invocation](const std::string& typed) { invocation.input.roster = typed; });
  declare_switch(app, "--strict", invocation.input.strict, {purpose::input, "", "Take suspicions for errors", ""});
  declare_value<runs::Date>(app, "--date", request.date,
                            {purpose::choice, "DATE", "Date of the runs (YYYY-MM-DD)", "the gate log's"},
                            "a date such as 2026-04-11",
                            [](const std::string& text) { return runs::parse_date(text, runs::DateOrder::iso); });
  declare_text(app, "--place", {purpose::choice, "NAME", "Where it was", "the gate log's"},
               [&request](const std::string& text) { request.place = text; });
  request.one_body_s = gates::GateRules{}.one_body_s;
  declare_value<double>(
      app, "--one-body", request.one_body_s,
      {purpose::choice, "SECONDS", "Breaks of a gate within this time are arm and torso of one runner, 0 to 2", "0.15"},
      "a number of seconds from 0 to 2", [](const std::string& text) {
        const auto value = read_number(text);
        return value && *value >= 0.0 && *value <= 2.0 ? value : std::nullopt;
      });
  declare_value<Format>(
      app, "--format", request.form,
      {purpose::output, "text|csv|json", "csv: a run log; text: a table for people; json for programs", "csv"},
      "text, csv or json", [](const std::string& text) -> std::optional<Format> {
        return text == "text"   ? std::optional(Format::text)
               : text == "csv"  ? std::optional(Format::csv)
               : text == "json" ? std::optional(Format::json)
                                : std::nullopt;
      });
  declare_output(app, invocation.output, Forms::own);
}

std::string examine(const Invocation& invocation) {
  const GatesRequest& request = invocation.gates;
  if (request.starts.empty() || request.map.empty()) {
    return request.starts.empty() ? "name the start list: --starts FILE" : "name the gate map: --map FILE";
  }
  if (invocation.input.logs.size() > 1) {
    return "one gate log at a time: '" + invocation.input.logs[1] + "' is one too many";
  }
  for (const std::string& file : {request.starts, request.map}) {
    if (file == "-") {
      return "only the gate log can come from standard input (-)";
    }
  }
  return examine_input(invocation);
}

struct Read {
  gates::GateLog log;
  gates::StartList starts;
  gates::GateMap map;
  std::vector<runs::Course> courses;
  text::Problems problems;
};

Read read(const Invocation& invocation) {
  Read out;
  out.courses = read_own_courses(invocation.input, out.problems).courses;
  std::vector<runs::Course> known = runs::builtin_courses();
  known.insert(known.end(), out.courses.begin(), out.courses.end());
  if (const auto text = runs::read_file(invocation.gates.map, out.problems)) {
    out.map = gates::read_gate_map(*text, invocation.gates.map, known, out.problems);
  }
  if (const auto text = runs::read_file(invocation.gates.starts, out.problems)) {
    out.starts = gates::read_start_list(*text, invocation.gates.starts, out.problems);
  }
  for (const runs::LoadedFile& file : runs::load_logs(invocation.input.logs, &std::cin, out.problems)) {
    out.log = gates::read_gate_log(file.text, file.path, out.problems);
  }
  return out;
}

// What earlier logs and the roster say of the children on the list.
std::vector<gates::ExpectedLevel> expected_levels(const Invocation& invocation, const Session& session, Read& in,
                                                  std::optional<runs::Date> date) {
  const GatesRequest& request = invocation.gates;
  if ((request.before.empty() && !invocation.input.roster) || text::has_errors(in.problems) || in.map.places.empty()) {
    return {};
  }
  InputOptions options = invocation.input;
  options.logs = request.before;
  Inputs known;
  if (request.before.empty()) {
    known.roster = read_named_roster(options.roster, session.latest_date_on_earth, known.problems);
    known.roster.build_index();
  } else {
    known = read_inputs(options, session);
  }
  std::erase_if(known.problems, [](const text::Problem& p) { return p.severity != text::Severity::error; });
  in.problems.insert(in.problems.end(), known.problems.begin(), known.problems.end());
  std::vector<runs::Course> courses = runs::builtin_courses();
  courses.insert(courses.end(), in.courses.begin(), in.courses.end());
  const runs::Course* course = runs::find_course(courses, in.map.course);
  if (text::has_errors(in.problems) || course == nullptr) {
    return {};
  }
  auto at = std::find_if(known.log.courses.begin(), known.log.courses.end(),
                         [&](const runs::Course& one) { return one.name == course->name; });
  const auto number = static_cast<std::uint16_t>(at - known.log.courses.begin());
  if (at == known.log.courses.end()) {
    known.log.courses.push_back(*course);
  }
  std::vector<std::string> players;
  for (const gates::StartEntry& entry : in.starts.entries) {
    if (std::find(players.begin(), players.end(), entry.player) == players.end()) {
      players.push_back(entry.player);
    }
  }
  std::vector<gates::ExpectedLevel> out;
  for (const jobs::ExpectedTime& one :
       jobs::expected_times(known.log, known.roster, known.devices, number, in.map.base_distance_m,
                            in.map.places.back().distance_m, players, date.value_or(session.local_date))) {
    out.push_back({one.player, one.log_time, one.sd});
  }
  return out;
}

ExitCode run(const Invocation& invocation, Session& session) {
  const GatesRequest& request = invocation.gates;
  Read in = read(invocation);
  gates::GateRuns found;
  const std::optional<runs::Date> date = request.date ? request.date : in.log.date;
  gates::GateRules rules;
  rules.one_body_s = request.one_body_s;
  rules.expected = expected_levels(invocation, session, in, date);
  if (!text::has_errors(in.problems)) {
    found = gates::sort_into_runs(in.log, in.starts, in.map, rules, in.problems);
    if (!date) {
      in.problems.push_back({.code = "missing-date",
                             .path = in.log.path,
                             .message = "the gate log has no date",
                             .expected = "ISO 8601 times, a line '# date: 2026-04-11' above the header, or --date"});
    }
  }
  take_strictly(invocation.input.strict, in.problems);
  std::string log;
  if (!text::has_errors(in.problems)) {
    log = gates::gate_run_log(found, in.map, *date, request.place.value_or(in.log.place));
    // What the run log's own reader thinks of it: a time nobody runs is told before anybody uses it.
    runs::ReadOptions reading;
    reading.courses = in.courses;
    reading.today = session.latest_date_on_earth;
    runs::RunLogResult back = runs::read_run_log(log, "the run log made", reading);
    std::move(back.problems.begin(), back.problems.end(), std::back_inserter(in.problems));
  }
  report_problems(in.problems, Notes::all, in.problems.size(), invocation.output.colour, session);
  if (const ExitCode code = judge(in.problems); code != ExitCode::done) {
    session.say("bagsplit: no run log was written: correct the errors first\n");
    return code;
  }
  session.say("bagsplit: " + present::gates_counts(found.counts) + "\n");
  const std::string answer =
      request.form == Format::json ? present::gates_json(found, in.map, *date, in.problems)
      : request.form == Format::csv
          ? log
          : present::gates_text(found, in.map, text_options(invocation.output, session.terminal));
  return deliver(answer, invocation.output, session);
}

}  // namespace

extern const Command gates_command;
const Command gates_command{
    "gates",
    "Turn a log of light-gate passages, a start list and a gate map into a run log.",
    "bagsplit gates gates.csv --starts starts.csv --map map.csv -o night.csv\n"
    "bagsplit gates gates.csv --starts starts.csv --map map.csv --before season\n"
    "bagsplit gates gates.csv --starts starts.csv --map map.csv --format text",
    "README.md, timing.md (how passages are sorted into runs).",
    declare,
    examine,
    run,
};

}  // namespace bagsplit::cli
