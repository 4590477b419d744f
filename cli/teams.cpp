#include "bagsplit/jobs/teams/teams.hpp"

#include <algorithm>

#include "bagsplit/present/teams_report.hpp"
#include "bagsplit/runs/typed.hpp"
#include "bagsplit/runs/units.hpp"
#include "bagsplit/text/number_text.hpp"
#include "bagsplit/text/text_width.hpp"
#include "command_line.hpp"
#include "declare.hpp"
#include "id_list.hpp"
#include "input.hpp"
#include "session.hpp"

namespace bagsplit::cli {

namespace {

void declare(Options& app, Invocation& invocation) {
  TeamsRequest& request = invocation.teams;
  declare_input(app, invocation.input);
  declare_model(app, invocation.input);
  declare_value<std::size_t>(app, "--teams", request.teams,
                             {purpose::choice, "N", "How many teams, 2 to 64", "as many as --names, else 2"},
                             "a whole number from 2 to 64", [](const std::string& text) -> std::optional<std::size_t> {
                               const auto n = runs::parse_count(text, 2, 64);
                               return n ? std::optional<std::size_t>(*n) : std::nullopt;
                             });
  declare_text(app, "--names", {purpose::choice, "NAMES", "What the teams are called: red,blue", "1, 2, ..."},
               [&request](const std::string& text) { request.names = read_ids(text); });
  declare_list(app, "--players", request.players,
               {purpose::choice, "IDS", "Only these take part: 3,5,7; may be given several times",
                "everybody in roster or log"});
  declare_list(app, "--absent", request.absent,
               {purpose::choice, "IDS", "All but these: 7,12; may be given several times", "nobody is away"});
  declare_list(app, "--together", request.together,
               {purpose::choice, "IDS", "These run for one team: 3,7; may be given several times", "no such rule"});
  declare_list(
      app, "--apart", request.apart,
      {purpose::choice, "IDS", "No two of these run for one team: 1,2; may be given several times", "no such rule"});
  declare_list(
      app, "--in-team", request.in_team,
      {purpose::choice, "TEAM=IDS",
       "These run for that team, as a coach's own children do: red=7; may be given several times", "no such rule"});
  declare_value<int>(
      app, "--equal-ages", request.equal_ages_years,
      {purpose::choice, "YEARS", "Spread each age group of so many years, 1 to 20, evenly over the teams",
       "ages are not looked at"},
      "a whole number of years from 1 to 20", [](const std::string& text) -> std::optional<int> {
        const auto years = runs::parse_count(text, 1, 20);
        return years ? std::optional(static_cast<int>(*years)) : std::nullopt;
      });
  declare_text(app, "--course", {purpose::choice, "NAME", "What each leg runs", "home-second"},
               [&request](const std::string& text) { request.course = text; });
  declare_value<double>(
      app, "--base-distance", request.base_distance_m,
      {purpose::choice, "LENGTH", "Base distance, such as 60ft", "of the last run along the bases, else 60ft"},
      "a length such as 60ft or 18.3m", [](const std::string& text) -> std::optional<double> {
        const auto metres = runs::parse_length_m(text);
        return metres && *metres >= 5.0 && *metres <= 60.0 ? metres : std::nullopt;
      });
  declare_value<double>(app, "--spread-weight", request.spread_weight,
                        {purpose::choice, "SHARE",
                         "What a second of difference in spread counts against one in mean time, 0 to 10", "0.25"},
                        "a number from 0 to 10", [](const std::string& text) {
                          const std::optional<double> value = read_number(text);
                          return value && *value >= 0.0 && *value <= 10.0 ? value : std::nullopt;
                        });
  declare_level(app, request.level);
  declare_threads(app, request.threads);
  declare_output(app, invocation.output);
}

std::string examine(const Invocation& invocation) {
  const TeamsRequest& r = invocation.teams;
  const auto bad_list = [](const std::vector<std::string>& lists, const char* option,
                           std::size_t least) -> std::string {
    for (const std::string& text : lists) {
      const std::vector<std::string> ids = read_ids(text);
      if (ids.size() < least || std::find(ids.begin(), ids.end(), "") != ids.end()) {
        return std::string(option) + " is '" + text + "', but must be " +
               (least > 1 ? "two players or more" : "players") + ", such as 3,7";
      }
    }
    return {};
  };
  for (const std::string& wrong : {bad_list(r.players, "--players", 1), bad_list(r.absent, "--absent", 1),
                                   bad_list(r.together, "--together", 2), bad_list(r.apart, "--apart", 2)}) {
    if (!wrong.empty()) {
      return wrong;
    }
  }
  if (r.names.size() == 1 || r.names.size() > 64 || std::find(r.names.begin(), r.names.end(), "") != r.names.end() ||
      (r.teams && !r.names.empty() && *r.teams != r.names.size())) {
    return "--names needs a name for each of " + (r.teams ? std::to_string(*r.teams) : std::string("2 to 64")) +
           " teams, such as red,blue";
  }
  for (const std::string& text : r.in_team) {
    if (read_named_ids(text).ids.empty()) {
      return "--in-team is '" + text + "', but must be a team and its players, such as red=7";
    }
  }
  return examine_input(invocation);
}

std::vector<std::string> all_ids(const std::vector<std::string>& lists) {
  std::vector<std::string> out;
  for (const std::string& text : lists) {
    const std::vector<std::string> ids = read_ids(text);
    out.insert(out.end(), ids.begin(), ids.end());
  }
  return out;
}

jobs::TeamsOptions options_of(const Invocation& invocation, const Inputs& inputs, const Session& session) {
  const TeamsRequest& r = invocation.teams;
  jobs::TeamsOptions options;
  options.level = r.level;
  options.model = inputs.model;
  options.squad = !inputs.own_model;
  options.threads = r.threads;
  options.teams = r.teams.value_or(r.names.empty() ? 2 : r.names.size());
  options.names = r.names;
  options.players = all_ids(r.players);
  options.absent = all_ids(r.absent);
  for (const std::string& text : r.together) {
    options.together.push_back(read_ids(text));
  }
  for (const std::string& text : r.apart) {
    options.apart.push_back(read_ids(text));
  }
  for (const std::string& text : r.in_team) {
    NamedIds team = read_named_ids(text);
    options.in_team.emplace_back(std::move(team.name), std::move(team.ids));
  }
  options.equal_ages_years = r.equal_ages_years;
  options.course = r.course;
  options.base_distance_m = r.base_distance_m;
  options.spread_weight = r.spread_weight;
  options.today = session.local_date;
  return options;
}

ExitCode run(const Invocation& invocation, Session& session) {
  ExitCode code = ExitCode::done;
  const std::optional<Inputs> inputs = sound_inputs(invocation, "teams", "no teams were made", session, code);
  if (!inputs) {
    return code;
  }
  jobs::TeamsResult result;
  try {
    result = jobs::even_teams(inputs->log, inputs->roster, inputs->devices, options_of(invocation, *inputs, session));
  } catch (const jobs::ImpossibleTeams& error) {
    session.say("bagsplit teams: " + text::printable(error.what()) + "\n");
    return ExitCode::wrong_command_line;
  }
  if (!result.uncertified.empty()) {
    session.say("bagsplit: the computation would not settle for " + text::counted(result.uncertified.size(), "player") +
                "; no teams were made\n");
    return ExitCode::not_certified;
  }
  if (!inputs->has_roster) {
    session.say("bagsplit: no roster: no ages, so wide priors (--roster FILE)\n");
  }
  const Format format = invocation.output.format;
  const std::string answer = format == Format::json ? present::teams_json(result)
                             : format == Format::csv
                                 ? present::teams_csv(result)
                                 : present::teams_text(result, text_options(invocation.output, session.terminal));
  return deliver(answer, invocation.output, session);
}

}  // namespace

extern const Command teams_command;
const Command teams_command{
    "teams",
    "Teams for a relay as even as can be in expected time and in spread, with the chances of each.",
    "bagsplit teams demo --teams 2\n"
    "bagsplit teams demo --names red,blue --apart 7,14 --equal-ages 2",
    "README.md, jobs.md (how it is worked out), schemas/teams.schema.json (the JSON).",
    declare,
    examine,
    run,
};

}  // namespace bagsplit::cli
