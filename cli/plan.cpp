#include <algorithm>
#include <cmath>
#include <unordered_set>

#include "bagsplit/inference/squad/squad_model.hpp"
#include "bagsplit/jobs/fast_end.hpp"
#include "bagsplit/jobs/night/night_plan.hpp"
#include "bagsplit/jobs/profile/profile.hpp"
#include "bagsplit/present/plan_report.hpp"
#include "bagsplit/runs/typed.hpp"
#include "bagsplit/runs/units.hpp"
#include "bagsplit/text/number_text.hpp"
#include "bagsplit/text/text.hpp"
#include "bagsplit/text/text_width.hpp"
#include "command_line.hpp"
#include "declare.hpp"
#include "input.hpp"
#include "session.hpp"
#include "timed_course.hpp"

namespace bagsplit::cli {

namespace {

constexpr double usual_base_m = 60 * runs::metres_per_foot;

std::function<std::optional<double>(const std::string&)> between(double low, double high) {
  return [=](const std::string& text) {
    const std::optional<double> value = read_number(text);
    return value && *value >= low && *value <= high ? value : std::nullopt;
  };
}

void declare(Options& app, Invocation& invocation) {
  PlanRequest& request = invocation.plan;
  declare_input(app, invocation.input);
  declare_value<double>(
      app, "--minutes", request.minutes,
      {purpose::choice, "MINUTES", "Plan the most telling night of so many minutes, 1 to 600", "no night is planned"},
      "a number of minutes from 1 to 600", between(1.0, 600.0));
  declare_value<std::size_t>(app, "--players", request.players,
                             {purpose::choice, "N", "Players who run, 1 to 500", "those of the log, or 12"},
                             "a whole number from 1 to 500", [](const std::string& text) -> std::optional<std::size_t> {
                               const auto n = runs::parse_count(text, 1, 500);
                               return n ? std::optional<std::size_t>(*n) : std::nullopt;
                             });
  declare_value<unsigned>(app, "--watches", request.watches,
                          {purpose::choice, "N", "Watches on each run, 0 to 10", "1"}, "a whole number from 0 to 10",
                          [](const std::string& text) { return runs::parse_count(text, 0, 10); });
  declare_switch(app, "--gates", request.gates, {purpose::choice, "", "There are timing gates for straights", ""});
  declare_value<double>(app, "--age", request.age_years,
                        {purpose::choice, "YEARS", "Age of the players", "from the roster, or unknown"},
                        "a number of years from 4 to 90", between(4.0, 90.0));
  declare_sex(app, request.sex, "Sex, for what is usual", "both together");
  declare_value<double>(app, "--base-distance", request.base_distance_m,
                        {purpose::choice, "LENGTH", "Base distance, such as 60ft", "60ft"},
                        "a length such as 60ft or 18.3m", [](const std::string& text) -> std::optional<double> {
                          const auto metres = runs::parse_length_m(text);
                          return metres && *metres >= 5.0 && *metres <= 60.0 ? metres : std::nullopt;
                        });
  declare_list(app, "--drill", request.drills,
               {purpose::choice, "NAME",
                "A drill by name, built in or of your own by --courses; may be given several times: the night is of "
                "these",
                "whichever tell most"});
  std::string words;
  for (const jobs::Wanted wanted : jobs::all_wanted) {
    words += (words.empty() ? "" : ", ") + jobs::wanted_name(wanted);
  }
  declare_list(app, "--want", request.wanted,
               {purpose::choice, "QUANTITY", "What the night is to tell; may be given several times: " + words,
                "reaction, time-constant, top-speed"});
  declare_text(app, "--course", {purpose::choice, "NAME", "Course whose time is planned for", "home-first"},
               [&request](const std::string& text) { request.course = text; });
  declare_text(app, "--mark", {purpose::choice, "NAME", "Mark whose time is planned for: a bag or a distance", "first"},
               [&request](const std::string& text) { request.mark = text; });
  declare_value<double>(
      app, "--half-width", request.half_width_s,
      {purpose::choice, "SECONDS", "Runs for an interval no wider than this to each side", "not asked"},
      "a number of seconds from 0.001 to 10", between(0.001, 10.0));
  declare_value<double>(app, "--change", request.change_s,
                        {purpose::choice, "SECONDS", "Runs to find a change of this size", "not asked"},
                        "a number of seconds from 0.001 to 10", between(0.001, 10.0));
  declare_value<double>(app, "--power", request.power,
                        {purpose::choice, "SHARE", "Chance of finding that change, 0.1 to 0.999", "0.8"},
                        "a number from 0.1 to 0.999", between(0.1, 0.999));
  declare_value<double>(app, "--level", request.level,
                        {purpose::choice, "SHARE", "Probability of every interval, 0.5 to 0.999", "0.9"},
                        "a number from 0.5 to 0.999", between(0.5, 0.999));
  declare_output(app, invocation.output);
}

std::string examine(const Invocation& invocation) {
  const PlanRequest& r = invocation.plan;
  if (!r.minutes && !r.half_width_s && !r.change_s) {
    return "say what to plan: --minutes for a night, --half-width or --change for a number of runs";
  }
  if (!r.drills.empty() && (!r.minutes || r.watches == 0 || r.gates)) {
    return !r.minutes ? "--drill plans a night: say how long it is with --minutes"
                      : "--drill plans with watches: leave out --gates and give --watches";
  }
  if (r.drills.size() > 6) {
    return "--drill: six drills at most in one night";
  }
  if (r.watches == 0 && !r.gates) {
    return "without a watch and without gates nothing is timed: give --watches or --gates";
  }
  for (const std::string& word : r.wanted) {
    if (!jobs::wanted_of(word)) {
      std::vector<std::string> names;
      for (const jobs::Wanted wanted : jobs::all_wanted) {
        names.push_back(jobs::wanted_name(wanted));
      }
      const std::vector<std::string_view> known(names.begin(), names.end());
      const auto nearest = text::nearest(word, known);
      return "--want is '" + text::printable(word) + "'" +
             (nearest ? ". Did you mean '" + std::string(*nearest) + "'?"
                      : ", but must be one of " + text::list_of(known, ","));
    }
  }
  return invocation.input.logs.empty() ? std::string() : examine_input(invocation);
}

// The drills asked for by name, with their courses; or what is wrong with one.
std::string name_drills(const Invocation& invocation, const runs::OwnCourses& own, jobs::NightQuestion& night) {
  std::vector<runs::Course> courses = runs::builtin_courses();
  courses.insert(courses.end(), own.courses.begin(), own.courses.end());
  for (const std::string& name : invocation.plan.drills) {
    std::string course, marks, posture, start, signal, wrong;
    const auto drill = fill_from_drill(own, name, {course, marks, posture, start, signal}, wrong);
    if (!drill) {
      return wrong.empty() ? "--drill needs a name" : wrong;
    }
    const auto same = [&](const jobs::NamedDrill& other) { return other.drill.name == drill->name; };
    const runs::Course* over = runs::find_course(courses, drill->course);
    if (over == nullptr || std::any_of(night.drills.begin(), night.drills.end(), same)) {
      return over == nullptr ? "no course '" + drill->course + "'" : "the drill " + drill->name + " is named twice";
    }
    night.drills.push_back({*drill, *over});
    if (std::string why = jobs::why_not_planned(night.drills.back()); !why.empty()) {
      return why;
    }
  }
  return {};
}

jobs::NightQuestion question_of(const PlanRequest& r) {
  const inference::SquadScalePriors published = inference::scale_priors();
  jobs::NightQuestion night;
  night.scales = {std::exp(published.log_effort_cv.mean), std::exp(published.log_day_cv.mean),
                  std::exp(published.log_reaction_sd.mean), 1.0};
  night.age_years = r.age_years;
  night.sex = r.sex;
  night.base_m = r.base_distance_m.value_or(usual_base_m);
  night.minutes = r.minutes.value_or(1.0);
  night.players = r.players.value_or(12);
  night.watches = r.watches;
  night.gates = r.gates;
  if (!r.wanted.empty()) {
    night.wanted.clear();
    for (const std::string& word : r.wanted) {
      const jobs::Wanted wanted = *jobs::wanted_of(word);
      if (std::find(night.wanted.begin(), night.wanted.end(), wanted) == night.wanted.end()) {
        night.wanted.push_back(wanted);
      }
    }
  }
  return night;
}

// Scatter, ages and bases as this squad's own runs show them.
void take_from_runs(const Inputs& inputs, const PlanRequest& r, jobs::NightQuestion& night, std::string& spread_from) {
  const norms::Catalogue references = norms::Catalogue::builtin();
  jobs::ProfileOptions options;
  options.squad = true;
  options.threads = 0;
  const jobs::ProfileResult profile = jobs::profile(inputs.log, inputs.roster, inputs.devices, references, options);
  if (profile.squad) {
    night.scales = {profile.squad->effort_cv.median, profile.squad->day_cv.median, profile.squad->reaction_sd_s.median,
                    profile.squad->press_factor.median};
    spread_from =
        "Scatter as this squad's own runs show it, over all they ran, for the time that is usual at this age.";
  }
  night.players = r.players.value_or(std::max<std::size_t>(1, profile.players.size()));
  double age = 0.0;
  double aged = 0.0;
  for (const jobs::PlayerProfile& player : profile.players) {
    if (player.age_years) {
      age += *player.age_years;
      aged += 1.0;
    }
    if (player.base_distance_m && !r.base_distance_m) {
      night.base_m = *player.base_distance_m;
    }
  }
  if (!night.age_years && aged > 0.0) {
    night.age_years = age / aged;
  }
}

ExitCode run(const Invocation& invocation, Session& session) {
  const PlanRequest& r = invocation.plan;
  jobs::NightQuestion night = question_of(r);
  text::Problems of_courses;
  const runs::OwnCourses own = read_own_courses(invocation.input, of_courses);
  report_problems(of_courses, Notes::counted, of_courses.size(), invocation.output.colour, session);
  if (const ExitCode code = judge(of_courses); code != ExitCode::done) {
    return code;
  }
  if (const std::string wrong = name_drills(invocation, own, night); !wrong.empty()) {
    session.say(text::paragraph("bagsplit plan: " + text::printable(wrong), 80));
    return ExitCode::wrong_command_line;
  }
  present::Plan plan;
  plan.spread_from =
      "Scatter from published values and the watch's profile, for what is usual at this age; a log of this squad's own "
      "runs "
      "tells better.";
  timing::DeviceBook devices;
  if (!invocation.input.logs.empty()) {
    ExitCode code = ExitCode::done;
    const std::optional<Inputs> read = sound_inputs(invocation, "plan", "nothing was planned", session, code);
    if (!read) {
      return code;
    }
    const Inputs& inputs = *read;
    devices = inputs.devices;
    take_from_runs(inputs, r, night, plan.spread_from);
  }
  plan.fastest_mps = jobs::fast_end_mps(night.age_years, night.sex);
  if (r.minutes) {
    plan.night = jobs::plan_night(night, devices);
  }
  if (r.half_width_s || r.change_s) {
    const auto length = runs::parse_length_m(r.mark);
    const char* const bags[] = {"first", "second", "third", "home"};
    const auto* const bag = std::find(std::begin(bags), std::end(bags), r.mark);
    if (!length && bag == std::end(bags)) {
      session.say("bagsplit plan: --mark is '" + text::printable(r.mark) +
                  "', but must be first, second, third, home or a distance such as 20m\n");
      return ExitCode::wrong_command_line;
    }
    const double distance_m = length ? *length : night.base_m * static_cast<double>(bag - std::begin(bags) + 1);
    const jobs::TimeSpread spread = jobs::time_spread(night, distance_m, !length, devices);
    plan.question = jobs::RunsQuestion{
        spread.run_sd_s, spread.moving_time_s, spread.day_sd_s > 0.0 ? std::optional(spread.day_sd_s) : std::nullopt,
        r.half_width_s,  r.change_s,           r.power,
        r.level};
    plan.needed = jobs::runs_needed(*plan.question);
  }
  const Format format = invocation.output.format;
  const std::string answer = format == Format::json ? present::plan_json(plan)
                             : format == Format::csv
                                 ? present::plan_csv(plan)
                                 : present::plan_text(plan, text_options(invocation.output, session.terminal));
  return deliver(answer, invocation.output, session);
}

}  // namespace

extern const Command plan_command;
const Command plan_command{
    "plan",
    "Before the night: which mix of drills tells most, and how many runs a precision takes.",
    "bagsplit plan --minutes 45 --players 12 --age 10\n"
    "bagsplit plan --minutes 60 --drill rise-and-run --drill once-round\n"
    "bagsplit plan demo --half-width 0.05 --change 0.1",
    "jobs.md (how it is worked out), schemas/plan.schema.json (the JSON).",
    declare,
    examine,
    run,
};

}  // namespace bagsplit::cli
