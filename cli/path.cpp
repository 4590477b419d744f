#include <algorithm>
#include <cmath>

#include "bagsplit/inference/prior/prior.hpp"
#include "bagsplit/jobs/path/path_plan.hpp"
#include "bagsplit/jobs/profile/profile.hpp"
#include "bagsplit/present/path_report.hpp"
#include "bagsplit/runs/courses/course_file.hpp"
#include "bagsplit/runs/files.hpp"
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

constexpr double usual_base_distance_m = 60 * runs::metres_per_foot;

using Reader = std::function<std::optional<double>(const std::string&)>;

// A reader that takes numbers of a range only.
Reader within(double low, double high, std::optional<double> (*read)(std::string_view)) {
  return [=](const std::string& text) {
    const std::optional<double> value = read(text);
    return value && *value >= low && *value <= high ? value : std::nullopt;
  };
}

std::optional<double> read_length(std::string_view text) {
  const std::optional<double> metres = read_number(std::string(text));
  return metres ? metres : runs::parse_length_m(text);
}

std::optional<double> read_seconds(std::string_view text) {
  if (text.ends_with('s')) {
    text.remove_suffix(text.ends_with(" s") ? 2 : 1);
  }
  return read_number(std::string(text));
}

std::optional<double> read_plain(std::string_view text) {
  return read_number(std::string(text));
}

void declare_whose(Options& app, PathRequest& request) {
  declare_text(app, "--player", {purpose::choice, "ID", "Whose path, from the run logs", "the only player of the logs"},
               [&request](const std::string& text) { request.player = text; });
  declare_as_of(app, request.as_of);
  declare_window(app, request.window_days);
  declare_value<double>(
      app, "--age", request.age_years,
      {purpose::choice, "YEARS", "Path of the middle of an age group instead, 3 to 80 years", "no age group"},
      "a number of years from 3 to 80", within(3.0, 80.0, read_plain));
  declare_sex(app, request.sex, "Sex, for --age", "both together");
  declare_value<double>(app, "--top-speed", request.top_speed_mps,
                        {purpose::choice, "SPEED",
                         "Top speed of a runner given by numbers, 0.5 to 15 m/s; with --time-constant", "no numbers"},
                        "a speed from 0.5 to 15 m/s, such as 6.2, 20ft/s or 14mph",
                        within(0.5, 15.0, runs::parse_speed_mps));
  declare_value<double>(app, "--time-constant", request.time_constant_s,
                        {purpose::choice, "TIME", "Time constant of that runner's sprint, 0.05 to 10 s", "no numbers"},
                        "a time from 0.05 to 10 s, such as 0.85", within(0.05, 10.0, read_seconds));
  declare_value<double>(
      app, "--point-mass", request.point_mass_mps2,
      {purpose::choice, "ACCEL",
       "Instead of a runner a mass whose acceleration has this limit in any direction, 0.01 to 1000 m/s2", "a runner"},
      "an acceleration from 0.01 to 1000 m/s2, such as 3.048 or 10ft/s2",
      within(0.01, 1000.0, runs::parse_acceleration_mps2));
  declare_value<double>(app, "--lateral-limit", request.lateral_mps2,
                        {purpose::choice, "ACCEL", "Most that can be used for turning, 0.2 to 100 m/s2", "4"},
                        "an acceleration from 0.2 to 100 m/s2, such as 4 or 13ft/s2",
                        within(0.2, 100.0, runs::parse_acceleration_mps2));
  declare_value<double>(app, "--braking-limit", request.braking_mps2,
                        {purpose::choice, "ACCEL", "Most that can be used for braking, 0.2 to 100 m/s2", "3"},
                        "an acceleration from 0.2 to 100 m/s2, such as 3 or 10ft/s2",
                        within(0.2, 100.0, runs::parse_acceleration_mps2));
}

void declare_where(Options& app, PathRequest& request) {
  declare_text(app, "--course",
               {purpose::choice, "NAME",
                "Course: circuit, home-second, first-third, circuit-reverse, ..., or one of --courses", "circuit"},
               [&request](const std::string& text) { request.course = text; });
  declare_value<double>(app, "--base-distance", request.base_distance_m,
                        {purpose::choice, "LENGTH", "Distance between bases, 5 to 100 m, in metres or with its unit",
                         "the player's most used, else 60ft"},
                        "a length from 5 to 100 m, such as 60ft or 18.288", within(5.0, 100.0, read_length));
  declare_value<runs::Finish>(
      app, "--finish", request.finish,
      {purpose::choice, "through|stop", "End of the course: through the last bag, or stop on it", "as the course says"},
      "through or stop", [](const std::string& text) -> std::optional<runs::Finish> {
        return text == "through" ? std::optional(runs::Finish::through)
               : text == "stop"  ? std::optional(runs::Finish::stop)
                                 : std::nullopt;
      });
  declare_value<runs::Touch>(
      app, "--touch", request.touch,
      {purpose::choice, "point|edge", "Bags as a point, or touched at the edge (their inside corner where rounded)",
       "as the course says"},
      "point or edge", [](const std::string& text) -> std::optional<runs::Touch> {
        return text == "point"  ? std::optional(runs::Touch::point)
               : text == "edge" ? std::optional(runs::Touch::edge)
                                : std::nullopt;
      });
  declare_value<double>(app, "--start-speed", request.start_speed_mps,
                        {purpose::choice, "SPEED", "Speed at the start, along the first line, 0 to 15 m/s", "0"},
                        "a speed from 0 to 15 m/s, such as 3 or 10ft/s", within(0.0, 15.0, runs::parse_speed_mps));
  declare_value<double>(
      app, "--max-outside", request.max_outside_m,
      {purpose::choice, "LENGTH", "Farthest outside the lines the path may swing, 0.01 to 100 m", "no limit"},
      "a length from 0.01 to 100 m, such as 2 or 6ft", within(0.01, 100.0, read_length));
  declare_level(app, request.level);
}

void declare(Options& app, Invocation& invocation) {
  declare_input(app, invocation.input);
  declare_model(app, invocation.input);
  declare_whose(app, invocation.path);
  declare_where(app, invocation.path);
  declare_value<PathForm>(app, "--format", invocation.path.form,
                          {purpose::output, "text|csv|json|svg",
                           "text for people, csv of the path's points, json for programs, svg to print", "text"},
                          "text, csv, json or svg", [](const std::string& text) -> std::optional<PathForm> {
                            return text == "text"   ? std::optional(PathForm::text)
                                   : text == "csv"  ? std::optional(PathForm::csv)
                                   : text == "json" ? std::optional(PathForm::json)
                                   : text == "svg"  ? std::optional(PathForm::svg)
                                                    : std::nullopt;
                          });
  declare_separator(app, invocation.output);
  declare_output(app, invocation.output, Forms::own);
}

std::string wrong_course(const std::string& name, const std::vector<runs::Course>& courses) {
  std::vector<std::string_view> known;
  for (const runs::Course& course : courses) {
    if (course.is_base_path()) {
      known.push_back(course.name);
    }
  }
  if (const runs::Course* course = runs::find_course(courses, name); course != nullptr && course->is_base_path()) {
    return {};
  }
  if (runs::find_course(courses, name) != nullptr) {
    return "--course is '" + name + "', but must be on the bases, such as circuit or home-second";
  }
  const auto nearest = text::nearest(name, known);
  return "no course '" + name + "'" + (nearest ? ". Did you mean '" + std::string(*nearest) + "'?" : "");
}

std::string examine(const Invocation& invocation) {
  const PathRequest& r = invocation.path;
  const InputOptions& input = invocation.input;
  const bool by_numbers = r.top_speed_mps || r.time_constant_s;
  const bool by_log = !input.logs.empty();
  const int ways = (by_log ? 1 : 0) + (by_numbers ? 1 : 0) + (r.age_years ? 1 : 0) + (r.point_mass_mps2 ? 1 : 0);
  if (ways == 0) {
    return r.player
               ? "--player needs run logs"
               : "say whose path: a run log with --player, --age, --top-speed with --time-constant, or --point-mass";
  }
  if (r.point_mass_mps2 && (by_numbers || r.lateral_mps2 || r.braking_mps2)) {
    return "--point-mass replaces --top-speed, --time-constant, --lateral-limit and --braking-limit: leave those out";
  }
  if (ways > 1) {
    return "whose path is told twice: give one of run logs, --age, --top-speed with --time-constant, --point-mass";
  }
  if (by_numbers && !(r.top_speed_mps && r.time_constant_s)) {
    return "--top-speed and --time-constant go together";
  }
  if (r.sex && !r.age_years) {
    return "--sex goes with --age; a player's sex stands in the roster";
  }
  const bool asks_log =
      r.player || r.as_of || r.window_days || input.roster || input.model || !input.devices.empty() || input.strict;
  if (!by_log && asks_log) {
    return "--player, --as-of, --window, --roster, --model, --device and --strict need run logs";
  }
  if (r.top_speed_mps && r.start_speed_mps >= *r.top_speed_mps) {
    return "--start-speed is " + text::shortest(r.start_speed_mps) + " m/s, but must be below the top speed";
  }
  if (by_log) {
    if (const std::string wrong = examine_input(invocation); !wrong.empty()) {
      return wrong;
    }
  }
  return input.courses.empty() ? wrong_course(r.course, runs::builtin_courses()) : std::string();
}

// The course with what was asked to be different; nothing where the file's courses hold none of that name.
std::string choose_course(const Invocation& invocation, text::Problems& problems, runs::Course& chosen) {
  std::vector<runs::Course> courses = runs::builtin_courses();
  for (const std::string& file : invocation.input.courses) {
    if (const auto text = runs::read_file(file, problems)) {
      std::vector<runs::Course> own = runs::read_courses(*text, file, courses, problems);
      courses.insert(courses.end(), own.begin(), own.end());
    }
  }
  if (text::has_errors(problems)) {
    return {};
  }
  if (const std::string wrong = wrong_course(invocation.path.course, courses); !wrong.empty()) {
    return wrong;
  }
  chosen = *runs::find_course(courses, invocation.path.course);
  chosen.finish = invocation.path.finish.value_or(chosen.finish);
  chosen.touch = invocation.path.touch.value_or(chosen.touch);
  return {};
}

// What the player's runs say; `code` is how to end where they say nothing.
void take_player(const Invocation& invocation, jobs::PathQuestion& question, basepath::RunnerLimits& limits,
                 ExitCode& code, Session& session) {
  const std::optional<Inputs> read = sound_inputs(invocation, "path", "no path was made", session, code);
  if (!read) {
    return;
  }
  const Inputs& inputs = *read;
  jobs::ProfileOptions options;
  options.level = invocation.path.level;
  options.model = inputs.model;
  options.as_of = invocation.path.as_of;
  options.window_days = invocation.path.window_days;
  options.threads = 0;
  const jobs::ProfileResult result =
      jobs::profile(inputs.log, inputs.roster, inputs.devices, norms::Catalogue::builtin(), options);
  const std::optional<std::string>& id = invocation.path.player;
  const auto found = std::find_if(result.players.begin(), result.players.end(),
                                  [&](const jobs::PlayerProfile& player) { return !id || player.player == *id; });
  if (found == result.players.end() || (!id && result.players.size() > 1)) {
    std::vector<std::string_view> known;
    for (const jobs::PlayerProfile& player : result.players) {
      known.push_back(player.player);
    }
    const auto nearest = id ? text::nearest(*id, known) : std::nullopt;
    session.say("bagsplit path: " +
                (id ? "no run of player '" + text::printable(*id) + "'"
                    : std::string("several players: name one with --player")) +
                (nearest ? ". Did you mean '" + text::printable(*nearest) + "'?" : "") + "\n");
    code = ExitCode::wrong_command_line;
    return;
  }
  if (found->status == inference::PosteriorStatus::not_certified) {
    session.say("bagsplit: the computation would not settle for this player; no path was made\n");
    code = ExitCode::not_certified;
    return;
  }
  if (!found->top_speed_mps || !found->time_constant_s) {
    session.say("bagsplit: no run of player '" + text::printable(found->player) +
                "' tells a speed; no path was made\n");
    code = ExitCode::data_problems;
    return;
  }
  limits.top_speed_mps = found->top_speed_mps->median;
  limits.time_constant_s = found->time_constant_s->median;
  jobs::PathRunner& runner = question.runner;
  runner.kind = jobs::PathRunner::Kind::player;
  runner.player = found->player;
  runner.age_years = found->age_years;
  runner.sex = found->sex;
  runner.source = "From " + text::counted(found->runs_used, "run") + "; medians of what they tell.";
  if (!invocation.path.base_distance_m && found->base_distance_m) {
    question.base_distance_m = *found->base_distance_m;
  }
  // The profile's best path is the same question where nothing about it was changed.
  const PathRequest& r = invocation.path;
  const auto& best = found->best_path;
  if (best && best->course == question.course.name && question.base_distance_m == found->base_distance_m && !r.finish &&
      !r.touch && !r.max_outside_m && r.start_speed_mps == 0.0 && limits.lateral_mps2 == best->lateral_mps2 &&
      limits.braking_mps2 == best->braking_mps2) {
    runner.total_s = best->time_s;
  }
}

ExitCode run(const Invocation& invocation, Session& session) {
  const PathRequest& r = invocation.path;
  jobs::PathQuestion question;
  text::Problems problems;
  if (const std::string wrong = choose_course(invocation, problems, question.course); !wrong.empty()) {
    session.say("bagsplit path: " + text::printable(wrong) + "\n");
    return ExitCode::wrong_command_line;
  }
  if (text::has_errors(problems)) {
    report_problems(problems, Notes::counted, suspicions_shown, invocation.output.colour, session);
    return judge(problems);
  }
  question.base_distance_m = r.base_distance_m.value_or(usual_base_distance_m);
  question.start_speed_mps = r.start_speed_mps;
  question.max_outside_m = r.max_outside_m;
  question.level = r.level;

  if (r.point_mass_mps2) {
    question.limits = basepath::PointMassLimit{*r.point_mass_mps2};
  } else {
    basepath::RunnerLimits limits{0.0, 0.0, r.lateral_mps2.value_or(basepath::default_lateral_mps2().value),
                                  r.braking_mps2.value_or(basepath::default_braking_mps2().value)};
    if (r.top_speed_mps) {
      limits.top_speed_mps = *r.top_speed_mps;
      limits.time_constant_s = *r.time_constant_s;
    } else if (r.age_years) {
      const inference::SprintPrior prior = inference::sprint_prior(r.age_years, r.sex);
      limits.top_speed_mps = std::exp(prior.log_top_speed.mean);
      limits.time_constant_s = std::exp(prior.log_time_constant.mean);
      question.runner = {jobs::PathRunner::Kind::age_group,
                         std::nullopt,
                         r.age_years,
                         r.sex,
                         prior.log_top_speed,
                         prior.log_time_constant,
                         inference::log_sprint(prior).correlation(),
                         std::nullopt,
                         prior.source};
    } else {
      ExitCode code = ExitCode::done;
      take_player(invocation, question, limits, code, session);
      if (code != ExitCode::done) {
        return code;
      }
    }
    if (!(r.start_speed_mps < limits.top_speed_mps)) {
      session.say("bagsplit path: --start-speed is " + text::shortest(r.start_speed_mps) +
                  " m/s, but must be below the top speed, " + text::fixed(limits.top_speed_mps, 2) + " m/s\n");
      return ExitCode::wrong_command_line;
    }
    question.limits = limits;
  }

  if (const std::string wrong = jobs::impossible_stop(question); !wrong.empty()) {
    session.say("bagsplit path: " + wrong + "\n");
    return ExitCode::wrong_command_line;
  }
  const jobs::PathPlan plan = jobs::plan_path(question);
  if (!plan.usable()) {
    session.say("bagsplit: no path is given, because none could be proven best: " + plan.message + "\n");
    return ExitCode::not_certified;
  }
  const std::string answer = r.form == PathForm::json  ? present::path_json(plan)
                             : r.form == PathForm::csv ? present::path_csv(plan)
                             : r.form == PathForm::svg
                                 ? present::path_svg(plan)
                                 : present::path_text(plan, text_options(invocation.output, session.terminal));
  return deliver(answer, invocation.output, session);
}

}  // namespace

extern const Command path_command;
const Command path_command{
    "path",
    "The best base path for a player, an age group or given limits: how wide to swing, and what it is worth.",
    "bagsplit path --age 11 --sex F --course home-second --base-distance 60ft\n"
    "bagsplit path demo --player 12 --format svg --output path.svg",
    "basepath.md (the model and its dangers), schemas/path.schema.json (the JSON).",
    declare,
    examine,
    run,
};

}  // namespace bagsplit::cli
