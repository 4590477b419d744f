#include <algorithm>
#include <map>
#include <random>
#include <set>

#include "asked.hpp"
#include "bagsplit/jobs/path/path_plan.hpp"
#include "bagsplit/jobs/profile/profile.hpp"
#include "bagsplit/jobs/trend/season_trend.hpp"
#include "bagsplit/present/page/report.hpp"
#include "bagsplit/runs/typed.hpp"
#include "bagsplit/text/number_text.hpp"
#include "bagsplit/text/text_width.hpp"
#include "command_line.hpp"
#include "declare.hpp"
#include "deliver_folder.hpp"
#include "input.hpp"
#include "relay_choice.hpp"
#include "session.hpp"
#include "standings_choice.hpp"

namespace bagsplit::cli {

namespace {

constexpr std::size_t shortest_salt = 8;

void declare(Options& app, Invocation& invocation) {
  ReportRequest& request = invocation.report;
  declare_input(app, invocation.input);
  declare_model(app, invocation.input);
  declare_list(
      app, "--player", request.players,
      {purpose::choice, "ID", "A page of this player across the weeks instead of the squad; may be given several times",
       "the squad"});
  declare_switch(
      app, "--each", request.each,
      {purpose::choice, "",
       "A page for each player, one a sheet of paper: after the squad, or with --output FOLDER/ in files of their "
       "own beside an index",
       ""});
  declare_switch(app, "--evaluation", request.evaluation,
                 {purpose::choice, "",
                  "An evaluation day, the last one unless --window says more: the order with how sure it is, tiers, "
                  "the cut; the options of standings from --by on say how",
                  ""});
  declare_standings_choice(app, invocation.standings);
  declare_switch(
      app, "--relay", request.relay,
      {purpose::choice, "", "A relay night: legs, exchanges, who was first, what may be expected of --order", ""});
  declare_relay_orders(app, invocation.relay);
  declare_text(app, "--course",
               {purpose::choice, "NAME", "Course compared across weeks", "the one with most to compare"},
               [&request](const std::string& text) { request.course = text; });
  declare_text(app, "--mark", {purpose::choice, "NAME", "Mark compared across weeks", "the one with most to compare"},
               [&request](const std::string& text) { request.mark = text; });
  declare_switch(app, "--places", request.places,
                 {purpose::choice, "", "Say places: the squad fastest first, percentiles on a child's page", ""});
  declare_level(app, request.level);
  declare_as_of(app, request.as_of);
  declare_window(app, request.window_days);
  declare_threads(app, request.threads);
  declare_switch(app, "--names", request.names, {purpose::output, "", "Names from the roster beside the ids", ""});
  declare_switch(
      app, "--anonymise", request.anonymise,
      {purpose::output, "",
       "Codes in place of ids, ages in years, months in place of dates; no names, teams, places, timers, heights or "
       "masses",
       ""});
  declare_text(
      app, "--salt",
      {purpose::output, "TEXT", "Secret the codes are made with, 8 characters or more: the same gives the same codes",
       "a random one, kept nowhere"},
      [&request](const std::string& text) { request.salt = text; });
  declare_value<ReportForm>(
      app, "--format", request.form,
      {purpose::output, "html|json", "html to look at, json: the results the page was made from", "html"},
      "html or json", [](const std::string& text) -> std::optional<ReportForm> {
        return text == "html"   ? std::optional(ReportForm::html)
               : text == "json" ? std::optional(ReportForm::json)
                                : std::nullopt;
      });
  declare_output(app, invocation.output, Forms::own);
}

bool asks_for_an_order(const StandingsRequest& order) {
  return !order.by.empty() || !order.weights.empty() || order.age_adjusted || order.age_groups ||
         !order.age_spans.empty() || order.age_on || order.cut || order.next_runs > 0;
}

std::string examine(const Invocation& invocation) {
  const ReportRequest& request = invocation.report;
  if (request.each && !request.players.empty()) {
    return "--each is for the squad: leave out --player";
  }
  if (names_a_folder(invocation.output.output) && (!request.each || request.form == ReportForm::json)) {
    return "--output is a folder, which holds a page for each player: give --each, and no --format json; or name a "
           "file";
  }
  if (request.names && request.anonymise) {
    return "--names and --anonymise contradict each other";
  }
  if (request.salt && !request.anonymise) {
    return "--salt goes with --anonymise";
  }
  if (request.salt && request.salt->size() < shortest_salt) {
    return "--salt must have 8 characters or more: a short one can be guessed";
  }
  if ((request.evaluation || request.relay) && !request.players.empty()) {
    return "--evaluation and --relay are of all players: leave out --player";
  }
  if (request.evaluation && request.relay) {
    return "--evaluation and --relay are two pages: ask for one of them";
  }
  if (!request.relay && !invocation.relay.orders.empty()) {
    return "--order goes with --relay";
  }
  if (std::string wrong = wrong_relay_orders(invocation.relay); !wrong.empty()) {
    return wrong;
  }
  if (!request.evaluation && asks_for_an_order(invocation.standings)) {
    return "the options of an order (--by, --cut and those beside them) go with --evaluation";
  }
  if (std::string wrong = wrong_standings_choice(invocation.standings); !wrong.empty()) {
    return wrong;
  }
  return examine_input(invocation);
}

std::string random_salt() {
  std::random_device device;
  std::string salt;
  for (int i = 0; i < 8; ++i) {
    salt += std::to_string(device()) + ".";
  }
  return salt;
}

// Marks in place of the names in what was read and in what was asked for. @return what is wrong, or nothing.
std::string disguise(Inputs& inputs, Invocation& invocation, present::Report& report) {
  ReportRequest& request = invocation.report;
  jobs::ProfileResult known;
  runs::OtherNames others;
  for (const runs::Run& run : inputs.log.runs) {
    known.players.emplace_back().player = inputs.log.name(run.player);
  }
  if (std::string wrong = keep_players(request.players, known); !wrong.empty()) {
    return wrong;
  }
  for (const timing::DeviceProfile& profile : inputs.devices.profiles()) {
    for (const timing::TimerNumbers& timer : profile.timers) {
      others.timers.insert(timer.timer);
    }
  }
  report.disguise = runs::disguise(inputs.log, inputs.roster, others, request.salt ? *request.salt : random_salt());
  const runs::Disguise& made = *report.disguise;
  for (std::string& player : request.players) {
    player = runs::Disguise::mark_of(made.players, player);
  }
  std::vector<std::string> in_use;  // adding a profile makes it its device's usual one
  for (const runs::Device device : {runs::Device::stopwatch, runs::Device::gate, runs::Device::video}) {
    in_use.push_back(inputs.devices.default_for(device).name);
  }
  for (timing::DeviceProfile profile : std::vector(inputs.devices.profiles())) {
    for (timing::TimerNumbers& timer : profile.timers) {
      timer.timer = runs::Disguise::mark_of(made.timers, timer.timer);
    }
    inputs.devices.add(std::move(profile));
  }
  for (const std::string& name : in_use) {
    inputs.devices.add(timing::DeviceProfile(*inputs.devices.find(name)));
  }
  return {};
}

// What is said to whoever gave the files is said in their words.
std::string in_words_typed(const present::Report& report, const std::string& text) {
  return report.disguise ? runs::replace_marks(text, report.disguise->names) : text;
}

std::map<std::string, std::string> names_of(const runs::Roster& roster) {
  std::map<std::string, std::string> names;
  for (const runs::Player& player : roster.players) {
    if (!player.name.empty()) {
      names[player.id] = player.name + " (" + player.id + ")";
    }
  }
  return names;
}

// An evaluation is of one day, the last on which somebody ran alone, unless a window was asked for.
void keep_one_day(const runs::RunLog& log, ReportRequest& request, const Session& session) {
  std::set<runs::Date> days;
  for (const runs::Run& run : log.runs) {
    if (run.leg == 0 && run.flag == runs::Flag::none && (!request.as_of || run.date <= *request.as_of)) {
      days.insert(run.date);
    }
  }
  if (request.window_days || days.empty()) {
    return;
  }
  request.as_of = *days.rbegin();
  request.window_days = 1;
  if (days.size() > 1) {
    session.say("bagsplit: the page is of " + runs::format_date(*request.as_of) + ", the last of " +
                text::counted(days.size(), "day") + "; --as-of DATE takes another, --window DAYS several\n");
  }
}

bool has_several_dates(const runs::RunLog& log) {
  return std::any_of(log.runs.begin(), log.runs.end(),
                     [&](const runs::Run& run) { return run.date != log.runs.front().date; });
}

// Each player's own best path, for the pages of players.
std::vector<std::optional<jobs::PathPlan>> paths_of(const jobs::ProfileResult& profile, const runs::RunLog& log) {
  std::vector<std::optional<jobs::PathPlan>> paths;
  for (const jobs::PlayerProfile& player : profile.players) {
    paths.emplace_back();
    if (auto question = jobs::own_path_question(player, log.courses)) {
      question->other_laterals = false;
      paths.back() = jobs::plan_path(*question);
    }
  }
  return paths;
}

// @return what is wrong, or nothing.
std::string add_order(const Inputs& inputs, const ReportRequest& request, StandingsRequest order,
                      present::Report& report) {
  order.level = request.level;
  order.as_of = request.as_of;
  order.window_days = request.window_days;
  order.threads = request.threads;
  auto made = jobs::standings(inputs.log, inputs.roster, inputs.devices, standings_options(order, inputs));
  if (const auto* refusal = std::get_if<jobs::StandingsRefusal>(&made)) {
    return refusal->why;
  }
  report.kind = present::ReportKind::evaluation;
  report.standings = std::move(std::get<jobs::StandingsResult>(made));
  add_idle(inputs, *report.standings);
  return {};
}

ExitCode add_relay(const Inputs& inputs, const Invocation& invocation, present::Report& report,
                   const Session& session) {
  RelayRequest request = invocation.relay;
  request.level = invocation.report.level;
  request.threads = invocation.report.threads;
  jobs::RelayOptions options = relay_options(request, inputs);
  for (jobs::RelayOrder& order : options.orders) {
    if (report.disguise) {
      order.team = runs::Disguise::mark_of(report.disguise->teams, order.team);
      for (std::string& player : order.players) {
        player = runs::Disguise::mark_of(report.disguise->players, player);
      }
    }
  }
  text::Problems problems;
  try {
    report.relay = jobs::relay(inputs.log, inputs.roster, inputs.devices, options, problems);
  } catch (const jobs::ImpossibleOrder& error) {
    session.say("bagsplit report: " + text::printable(in_words_typed(report, error.what())) + "\n");
    return ExitCode::wrong_command_line;
  }
  report.kind = present::ReportKind::relay;
  take_strictly(invocation.input.strict, problems);
  for (text::Problem& problem : problems) {
    for (std::string* text : {&problem.path, &problem.message, &problem.read, &problem.expected, &problem.hint}) {
      *text = in_words_typed(report, *text);
    }
  }
  report_problems(problems, Notes::all, problems.size(), invocation.output.colour, session);
  if (judge(problems) == ExitCode::done && !report.relay->uncertified.empty()) {
    session.say("bagsplit: the computation would not settle for " +
                text::counted(report.relay->uncertified.size(), "player") + "; no report was made\n");
    return ExitCode::not_certified;
  }
  return judge(problems);
}

// @return what is wrong, or nothing.
std::string compute(const Inputs& inputs, const ReportRequest& request, const norms::Catalogue& references,
                    present::Report& report) {
  jobs::ProfileOptions options;
  options.level = request.level;
  options.as_of = request.as_of;
  options.window_days = request.window_days;
  options.threads = request.threads;
  options.model = inputs.model;
  options.squad = !inputs.own_model;
  options.speed_curve = request.each || !request.players.empty();
  report.profile = jobs::profile(inputs.log, inputs.roster, inputs.devices, references, options);
  if (!request.players.empty()) {
    report.kind = present::ReportKind::players;
    if (std::string wrong = keep_players(request.players, report.profile); !wrong.empty()) {
      return wrong;
    }
  }
  if (std::string wrong = wrong_comparison(request.course, {request.mark}, inputs.log); !wrong.empty()) {
    return wrong;
  }
  if (has_several_dates(inputs.log)) {
    jobs::TrendOptions trend;
    trend.course = request.course;
    trend.mark = request.mark;
    trend.level = request.level;
    trend.model = inputs.model;
    report.trend = jobs::season_trend(inputs.log, inputs.roster, inputs.devices, trend);
    if (!request.as_of && !request.window_days) {
      jobs::mark_changes(report.profile, *report.trend);
    }
  }
  if (options.speed_curve) {
    report.paths = paths_of(report.profile, inputs.log);
    report.own = jobs::own_records(inputs.log, report.profile, request.as_of, request.window_days);
  }
  if (report.kind == present::ReportKind::squad) {
    jobs::TimersOptions timers;
    timers.level = request.level;
    report.timers = jobs::timers(inputs.log, inputs.devices, timers);
  }
  return {};
}

ExitCode hand_over(const present::Report& report, const norms::Catalogue& references, const Invocation& invocation,
                   const Session& session) {
  const ReportRequest& request = invocation.report;
  const std::string& output = invocation.output.output;
  const std::string shown = text::printable(output);
  if (names_a_folder(output)) {
    const std::vector<present::ReportFile> files = present::report_files(report, references);
    const ExitCode code = deliver_folder(files, output, session);
    if (code == ExitCode::done) {
      session.say("bagsplit: wrote " + shown + ": " + files.front().name + " for the coach, and " +
                  text::counted(files.size() - 1, "player's file", "players' files") +
                  ": give each family its own child's only\n");
    }
    return code;
  }
  const std::string answer =
      request.form == ReportForm::json ? present::report_json(report) : present::report_html(report, references);
  const ExitCode code = deliver(answer, invocation.output, session);
  if (code == ExitCode::done && request.form == ReportForm::html && output != "-") {
    const bool pages = request.each || !request.players.empty();
    session.say("bagsplit: wrote " + shown + ": open it in a browser" +
                (pages ? "; printed, each player takes one page" : "") +
                (request.each ? ". It holds all players: for a file each, --output FOLDER/" : "") + "\n");
  }
  return code;
}

ExitCode run(const Invocation& asked, Session& session) {
  Invocation invocation = asked;
  ReportRequest& request = invocation.report;
  if (const std::string why = unfit_for_terminal(invocation.output, session.terminal);
      request.form == ReportForm::html && !why.empty()) {
    session.say("bagsplit report: " + why + "\n");
    return ExitCode::wrong_command_line;
  }
  ExitCode code = ExitCode::done;
  std::optional<Inputs> read = sound_inputs(invocation, "report", "no report was made", session, code);
  if (!read) {
    return code;
  }
  Inputs& inputs = *read;
  present::Report report;
  report.each_player = request.each;
  report.places = request.places;
  if (request.names) {
    report.names = names_of(inputs.roster);
  }
  std::string what = request.anonymise ? disguise(inputs, invocation, report) : std::string();
  if (what.empty() && request.relay) {
    if (code = add_relay(inputs, invocation, report, session); code != ExitCode::done) {
      return code;
    }
  }
  const norms::Catalogue references = norms::Catalogue::builtin();
  if (what.empty() && request.evaluation) {
    keep_one_day(inputs.log, request, session);
    what = add_order(inputs, request, invocation.standings, report);
  }
  if (what.empty()) {
    what = compute(inputs, request, references, report);
  }
  if (!what.empty()) {
    session.say("bagsplit report: " + text::printable(in_words_typed(report, what)) + "\n");
    return ExitCode::wrong_command_line;
  }
  if (!inputs.has_roster) {
    session.say("bagsplit: no roster: no ages, so nothing is compared with children of the same age (--roster FILE)\n");
  }
  return hand_over(report, references, invocation, session);
}

}  // namespace

extern const Command report_command;
const Command report_command{
    "report",
    "A page to look at or print: the squad, or a page for each child.",
    "bagsplit report demo --output squad.html\n"
    "bagsplit report spring --roster squad.csv --each --output pages/",
    "README.md (what it shows), schemas/report.schema.json (the JSON).",
    declare,
    examine,
    run,
};

}  // namespace bagsplit::cli
