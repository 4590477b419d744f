
#include "bagsplit/present/check_report.hpp"
#include "bagsplit/present/codes_report.hpp"
#include "command_line.hpp"
#include "declare.hpp"
#include "input.hpp"
#include "session.hpp"

namespace bagsplit::cli {

namespace {

void declare(Options& app, Invocation& invocation) {
  declare_input(app, invocation.input);
  declare_switch(
      app, "--codes", invocation.check.codes,
      {purpose::choice, "", "Tell each problem's code as well; without a LOG, list the codes and what each means", ""});
  declare_output(app, invocation.output);
}

std::string examine(const Invocation& invocation) {
  return invocation.check.codes && invocation.input.logs.empty() ? "" : examine_input(invocation);
}

ExitCode list_codes(const Invocation& invocation, const Session& session) {
  const Format format = invocation.output.format;
  return deliver(format == Format::text  ? present::codes_text(text_options(invocation.output, session.terminal))
                 : format == Format::csv ? present::codes_csv()
                                         : present::codes_json(),
                 invocation.output, session);
}

ExitCode run(const Invocation& invocation, Session& session) {
  const bool codes = invocation.check.codes;
  if (codes && invocation.input.logs.empty()) {
    return list_codes(invocation, session);
  }
  Inputs inputs = read_inputs(invocation.input, session);
  if (!inputs.wrong_command_line.empty()) {
    session.say("bagsplit check: " + inputs.wrong_command_line + "\n");
    return ExitCode::wrong_command_line;
  }
  const jobs::SheetDoubts doubts =
      text::has_errors(inputs.problems)
          ? jobs::SheetDoubts()
          : jobs::doubt_sheet(inputs.log, inputs.roster, inputs.devices, {.model = inputs.model, .threads = 0});
  present::add_doubts(doubts, invocation.input.strict, inputs.problems);
  const runs::LogSummary summary = runs::summarise(inputs.log);
  std::string answer;
  switch (invocation.output.format) {
    case Format::text:
      report_problems(inputs.problems, Notes::all, inputs.problems.size(), invocation.output.colour, session, codes);
      answer = present::check_text(summary, inputs.problems, text_options(invocation.output, session.terminal), codes);
      break;
    case Format::csv:
      answer = present::check_csv(inputs.problems);
      break;
    case Format::json:
      answer = present::check_json(summary, inputs.problems, doubts);
      break;
  }
  const ExitCode written = deliver(answer, invocation.output, session);
  return written == ExitCode::done ? judge(inputs.problems) : written;
}

}  // namespace

extern const Command check_command;
const Command check_command{
    "check",
    "Read run logs, report every problem in one pass, change nothing.",
    "bagsplit check night.csv --roster squad.csv\n"
    "bagsplit check season/ --strict --format json",
    "README.md (the run log's columns, what is reported).",
    declare,
    examine,
    run,
};

}  // namespace bagsplit::cli
