#include "bagsplit/jobs/relay/relay.hpp"

#include <stdexcept>

#include "bagsplit/present/relay_report.hpp"
#include "bagsplit/text/number_text.hpp"
#include "bagsplit/text/text_width.hpp"
#include "command_line.hpp"
#include "declare.hpp"
#include "id_list.hpp"
#include "input.hpp"
#include "relay_choice.hpp"
#include "session.hpp"

namespace bagsplit::cli {

void declare_relay_orders(Options& app, RelayRequest& request) {
  declare_list(
      app, "--order", request.orders,
      {purpose::choice, "TEAM=IDS",
       "Look ahead to this running order, such as red=12,7,3; once a team. With one team named, the others run as in "
       "their last relay",
       "each team as in its last relay"});
}

std::string wrong_relay_orders(const RelayRequest& request) {
  for (const std::string& text : request.orders) {
    const NamedIds order = read_named_ids(text);
    if (order.name.empty() || order.ids.empty()) {
      return "--order is '" + text + "', but must be a team and its players, such as red=12,7,3";
    }
  }
  return {};
}

jobs::RelayOptions relay_options(const RelayRequest& request, const Inputs& inputs) {
  jobs::RelayOptions options;
  options.level = request.level;
  options.model = inputs.model;
  options.squad = !inputs.own_model;
  options.threads = request.threads;
  options.course = request.course;
  for (const std::string& text : request.orders) {
    NamedIds order = read_named_ids(text);
    options.orders.push_back({std::move(order.name), std::move(order.ids)});
  }
  return options;
}

namespace {

void declare(Options& app, Invocation& invocation) {
  RelayRequest& request = invocation.relay;
  declare_input(app, invocation.input);
  declare_model(app, invocation.input);
  declare_relay_orders(app, request);
  declare_text(app, "--course",
               {purpose::choice, "NAME", "Every leg of --order goes over this course", "as the team last ran"},
               [&request](const std::string& text) { request.course = text; });
  declare_level(app, request.level);
  declare_threads(app, request.threads);
  declare_output(app, invocation.output);
}

std::string examine(const Invocation& invocation) {
  if (std::string wrong = wrong_relay_orders(invocation.relay); !wrong.empty()) {
    return wrong;
  }
  if (invocation.relay.course && invocation.relay.orders.empty()) {
    return "--course is for the legs of --order: give an order as well";
  }
  return examine_input(invocation);
}

ExitCode run(const Invocation& invocation, Session& session) {
  ExitCode code = ExitCode::done;
  const std::optional<Inputs> read = sound_inputs(invocation, "relay", "no relay was worked out", session, code);
  if (!read) {
    return code;
  }
  const Inputs& inputs = *read;
  const jobs::RelayOptions options = relay_options(invocation.relay, inputs);
  text::Problems problems;
  jobs::RelayResult result;
  try {
    result = jobs::relay(inputs.log, inputs.roster, inputs.devices, options, problems);
  } catch (const jobs::ImpossibleOrder& error) {
    session.say("bagsplit relay: " + text::printable(error.what()) + "\n");
    return ExitCode::wrong_command_line;
  }
  take_strictly(invocation.input.strict, problems);
  report_problems(problems, Notes::all, problems.size(), invocation.output.colour, session);
  if (judge(problems) != ExitCode::done) {
    session.say("bagsplit: no relay was worked out: correct the errors first\n");
    return judge(problems);
  }
  if (!result.uncertified.empty()) {
    session.say("bagsplit: the computation would not settle for " + text::counted(result.uncertified.size(), "player") +
                "; no relay was worked out\n");
    return ExitCode::not_certified;
  }
  if (result.runs.empty() && result.expected.empty()) {
    session.say("bagsplit: there is no relay in these files: its rows name a team and a leg (README.md shows some)\n");
    return ExitCode::data_problems;
  }
  if (!inputs.has_roster) {
    session.say("bagsplit: no roster: no ages, so wide priors (--roster FILE)\n");
  }
  const Format format = invocation.output.format;
  const std::string answer = format == Format::json ? present::relay_json(result)
                             : format == Format::csv
                                 ? present::relay_csv(result)
                                 : present::relay_text(result, text_options(invocation.output, session.terminal));
  return deliver(answer, invocation.output, session);
}

}  // namespace

extern const Command relay_command;
const Command relay_command{
    "relay",
    "Relays: each leg and exchange, who gained where, what other orders may be expected to do.",
    "bagsplit relay demo demo/relay\n"
    "bagsplit relay night.csv --order red=12,7,3 --order blue=5,8,11",
    "README.md (how a relay is typed), jobs.md (how it is worked out), "
    "schemas/relay.schema.json (the JSON).",
    declare,
    examine,
    run,
};

}  // namespace bagsplit::cli
