#include <algorithm>
#include <string_view>

#include "asked.hpp"
#include "bagsplit/jobs/trend/season_trend.hpp"
#include "bagsplit/present/season_report.hpp"
#include "bagsplit/runs/typed.hpp"
#include "bagsplit/runs/units.hpp"
#include "bagsplit/text/number_text.hpp"
#include "bagsplit/text/text.hpp"
#include "bagsplit/text/text_width.hpp"
#include "command_line.hpp"
#include "declare.hpp"
#include "input.hpp"
#include "session.hpp"

namespace bagsplit::cli {

namespace {

// "2026-04-01..2026-04-30", or one date.
std::optional<jobs::DateSpan> read_span(const std::string& text) {
  const std::size_t dots = text.find("..");
  const auto from = runs::parse_date(text.substr(0, dots), runs::DateOrder::iso);
  const auto to = dots == std::string::npos ? from : runs::parse_date(text.substr(dots + 2), runs::DateOrder::iso);
  return from && to && *from <= *to ? std::optional(jobs::DateSpan{*from, *to}) : std::nullopt;
}

void declare(Options& app, Invocation& invocation) {
  TrendRequest& request = invocation.trend;
  declare_input(app, invocation.input);
  declare_model(app, invocation.input);
  declare_text(app, "--course",
               {purpose::choice, "NAME",
                "Give the change in seconds of this course, such as home-first; all courses count", "the one run most"},
               [&request](const std::string& text) { request.course = text; });
  declare_text(app, "--mark",
               {purpose::choice, "NAME", "Give it in seconds at this mark: first, 20m; move: the reaction alone",
                "the one timed most"},
               [&request](const std::string& text) { request.mark = text; });
  declare_text(app, "--from",
               {purpose::choice, "NAME", "Give it in seconds from this mark to the other one", "from the start"},
               [&request](const std::string& text) { request.from_mark = text; });
  const std::string span = "a date or two as in 2026-04-01..2026-04-30, the earlier first";
  declare_value<jobs::DateSpan>(
      app, "--first", request.first,
      {purpose::choice, "DATES", "First window, FROM..TO or one date (YYYY-MM-DD)", "the first third of the dates"},
      span, read_span);
  declare_value<jobs::DateSpan>(
      app, "--last", request.last,
      {purpose::choice, "DATES", "Last window, FROM..TO or one date", "the last third of the dates"}, span, read_span);
  declare_switch(app, "--slope", request.slope,
                 {purpose::choice, "", "Give changes in seconds a week, whatever lies between the windows", ""});
  declare_value<double>(app, "--worthwhile", request.worthwhile_s,
                        {purpose::choice, "SECONDS", "Smallest change worth having, above 0 (with --slope: a week)",
                         "1 % of the time; of a reaction 0.02 s"},
                        "a number of seconds above 0, such as 0.05", [](const std::string& text) {
                          const std::optional<double> value = read_number(text);
                          return value && *value > 0.0 ? value : std::nullopt;
                        });
  declare_level(app, request.level);
  declare_output(app, invocation.output);
}

std::string examine(const Invocation& invocation) {
  const TrendRequest& request = invocation.trend;
  if (request.first.has_value() != request.last.has_value()) {
    return "--first and --last go together: give both windows or none";
  }
  if (request.first && request.first->to >= request.last->from) {
    return "the last window must begin after the first one ends";
  }
  return examine_input(invocation);
}

std::string answer(const Invocation& invocation, const jobs::SeasonTrend& result, const Session& session) {
  switch (invocation.output.format) {
    case Format::json:
      return present::season_json(result);
    case Format::csv:
      return present::season_csv(result);
    default:
      return present::season_text(result, text_options(invocation.output, session.terminal));
  }
}

ExitCode run(const Invocation& invocation, Session& session) {
  ExitCode code = ExitCode::done;
  const std::optional<Inputs> read = sound_inputs(invocation, "trend", "no trend was computed", session, code);
  if (!read) {
    return code;
  }
  const Inputs& inputs = *read;
  const TrendRequest& request = invocation.trend;
  if (const std::string wrong = wrong_comparison(request.course, {request.mark, request.from_mark}, inputs.log);
      !wrong.empty()) {
    session.say("bagsplit trend: " + text::printable(wrong) + "\n");
    return ExitCode::wrong_command_line;
  }
  jobs::TrendOptions options;
  options.course = request.course;
  options.mark = request.mark;
  options.from_mark = request.from_mark;
  options.first = request.first;
  options.last = request.last;
  options.a_week = request.slope;
  options.worthwhile_s = request.worthwhile_s;
  options.level = request.level;
  options.model = inputs.model;
  if (!inputs.has_roster) {
    session.say("bagsplit: no roster: growth is that of no age in particular (--roster FILE)\n");
  }
  const jobs::SeasonTrend result = jobs::season_trend(inputs.log, inputs.roster, inputs.devices, options);
  if (result.runs_left_out > 0) {
    session.say("bagsplit: " + text::counted(result.runs_left_out, "run") + " left out\n");
  }
  return deliver(answer(invocation, result, session), invocation.output, session);
}

}  // namespace

extern const Command trend_command;
const Command trend_command{
    "trend",
    "Who got faster or slower across weeks, by how much beyond growing up, and how sure that is.",
    "bagsplit trend demo\n"
    "bagsplit trend spring --roster squad.csv --course straight --mark 20m --slope",
    "README.md, jobs.md (the definitions), schemas/trend.schema.json (the JSON).",
    declare,
    examine,
    run,
};

}  // namespace bagsplit::cli
