#include <algorithm>
#include <string_view>
#include <unordered_set>

#include "asked.hpp"
#include "bagsplit/jobs/profile/profile.hpp"
#include "bagsplit/jobs/trend/season_trend.hpp"
#include "bagsplit/present/machine/profile_csv.hpp"
#include "bagsplit/present/machine/profile_json.hpp"
#include "bagsplit/present/text/profile_text.hpp"
#include "bagsplit/runs/typed.hpp"
#include "bagsplit/text/number_text.hpp"
#include "bagsplit/text/text_width.hpp"
#include "command_line.hpp"
#include "declare.hpp"
#include "input.hpp"
#include "session.hpp"

namespace bagsplit::cli {

namespace {

constexpr std::size_t idle_shown = 20;

void declare(Options& app, Invocation& invocation) {
  ProfileRequest& request = invocation.profile;
  declare_input(app, invocation.input);
  declare_model(app, invocation.input);
  declare_level(app, request.level);
  declare_as_of(app, request.as_of);
  declare_window(app, request.window_days);
  declare_list(app, "--player", request.players,
               {purpose::choice, "ID",
                "Show this player only, in full; may be given several times. All runs are still used for what "
                "players share",
                "all players"});
  declare_switch(app, "--all", request.all,
                 {purpose::choice, "", "Every table and note of the squad, not the first screen alone", ""});
  declare_switch(app, "--note", request.note,
                 {purpose::choice, "", "Two sentences for a message to the parent of each --player", ""});
  declare_threads(app, request.threads);
  declare_output(app, invocation.output);
}

void say_left_out(const Inputs& inputs, const jobs::ProfileResult& result, const Session& session) {
  if (result.runs_left_out > 0) {
    session.say("bagsplit: " + text::counted(result.runs_left_out, "run") +
                " left out of the estimates: " + present::left_out_words(result.players) + "\n");
  }
  if (!inputs.has_roster) {
    session.say("bagsplit: no roster: no ages, so no percentiles, and wide priors (--roster FILE)\n");
    return;
  }
  std::unordered_set<std::string_view> ran;
  for (const runs::Run& run : inputs.log.runs) {
    ran.insert(inputs.log.name(run.player));
  }
  std::string idle;
  std::size_t count = 0;
  for (const runs::Player& player : inputs.roster.players) {
    if (!ran.contains(player.id)) {
      ++count;
      idle += count <= idle_shown ? (count == 1 ? "" : ", ") + player.id : "";
    }
  }
  if (count > 0) {
    session.say("bagsplit: in the roster without a run: " + text::printable(idle) +
                (count > idle_shown ? " and others" : "") + "\n");
  }
}

std::string examine(const Invocation& invocation) {
  if (invocation.profile.note && invocation.profile.players.empty()) {
    return "--note is for the parent of one child: give --player";
  }
  if (invocation.profile.all && !invocation.profile.players.empty()) {
    return "--all is for the squad: leave out --player, or --all";
  }
  return examine_input(invocation);
}

// Who changed, from the season: only where the whole season was asked for.
void add_changes(const Inputs& inputs, const ProfileRequest& request, const norms::Catalogue& references,
                 jobs::ProfileResult& result) {
  if (result.dates < 2 || request.as_of || request.window_days) {
    return;
  }
  jobs::TrendOptions options;
  options.model = inputs.model;
  jobs::mark_changes(result, jobs::trend_by_season(inputs.log, inputs.roster, inputs.devices, references, options));
}

// The squad for people, and how to ask for more.
std::string squad_answer_text(const jobs::ProfileResult& result, const norms::Catalogue& references,
                              const Invocation& invocation, const text::TextOptions& text) {
  const std::string answer = invocation.profile.all ? present::squad_text(result, references, text)
                                                    : present::squad_screen(result, text);
  if (result.players.empty()) {
    return answer;
  }
  const std::vector<std::size_t> order = jobs::by_what_matters(result, jobs::timed_quantities(result));
  std::string command = "bagsplit profile";
  for (const std::string& log : invocation.input.logs) {
    command += " " + log;
  }
  return answer + "\n" +
         text::paragraph((invocation.profile.all ? "One child in full: " : "One child in full (all of them: --all): ") +
                             command + " --player " + result.players[order.front()].player,
                         text.width);
}

ExitCode run(const Invocation& invocation, Session& session) {
  ExitCode code = ExitCode::done;
  const std::optional<Inputs> read = sound_inputs(invocation, "profile", "no profile was made", session, code);
  if (!read) {
    return code;
  }
  const Inputs& inputs = *read;

  jobs::ProfileOptions options;
  options.level = invocation.profile.level;
  options.as_of = invocation.profile.as_of;
  options.window_days = invocation.profile.window_days;
  options.threads = invocation.profile.threads;
  options.model = inputs.model;
  options.squad = !inputs.own_model;
  const norms::Catalogue references = norms::Catalogue::builtin();
  jobs::ProfileResult result = jobs::profile(inputs.log, inputs.roster, inputs.devices, references, options);
  add_changes(inputs, invocation.profile, references, result);
  const bool one_by_one = !invocation.profile.players.empty();
  if (one_by_one) {
    if (const std::string wrong = keep_players(invocation.profile.players, result); !wrong.empty()) {
      session.say("bagsplit profile: " + text::printable(wrong) + "\n");
      return ExitCode::wrong_command_line;
    }
  }
  say_left_out(inputs, result, session);

  const text::TextOptions text = text_options(invocation.output, session.terminal);
  const Format format = invocation.output.format;
  const std::string answer =
      format == Format::json  ? present::profile_json(result)
      : format == Format::csv ? present::profile_csv(result)
      : invocation.profile.note ? present::note_text(result, text)
      : one_by_one            ? present::player_text(result, references, text)
                              : squad_answer_text(result, references, invocation, text);
  if (code = deliver(answer, invocation.output, session); code != ExitCode::done) {
    return code;
  }
  const auto uncertified = std::count_if(
      result.players.begin(), result.players.end(),
      [](const jobs::PlayerProfile& player) { return player.status == inference::PosteriorStatus::not_certified; });
  if (uncertified > 0) {
    session.say("bagsplit: the computation would not settle for " +
                text::counted(static_cast<std::size_t>(uncertified), "player") + "; they have no estimates\n");
    return ExitCode::not_certified;
  }
  return ExitCode::done;
}

}  // namespace

extern const Command profile_command;
const Command profile_command{
    "profile",
    "Each player's reaction, acceleration, top speed and losses at the bags, with honest intervals.",
    "bagsplit profile demo\n"
    "bagsplit profile night.csv --roster squad.csv --player 12 --output 12.txt",
    "README.md (how to read it), inference.md (the model), schemas/profile.schema.json (the "
    "JSON).",
    declare,
    examine,
    run,
};

}  // namespace bagsplit::cli
