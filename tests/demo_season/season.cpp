#include "season.hpp"

#include <chrono>
#include <stdexcept>
#include <string>
#include <utility>

#include "night.hpp"

namespace demo_season {

namespace {

constexpr std::string_view first_date = "2026-04-14";
constexpr std::string_view last_date = "2026-06-23";

std::chrono::sys_days day_of(std::string_view date) {
  const auto digits = [&](std::size_t from, std::size_t n) {
    int value = 0;
    for (const char c : date.substr(from, n)) {
      if (c < '0' || c > '9') {
        throw std::invalid_argument("day_of: not a date: " + std::string(date));
      }
      value = 10 * value + (c - '0');
    }
    return value;
  };
  return std::chrono::year_month_day{std::chrono::year{digits(0, 4)},
                                     std::chrono::month{static_cast<unsigned>(digits(5, 2))},
                                     std::chrono::day{static_cast<unsigned>(digits(8, 2))}};
}

const std::string meadow = "Odderhithe Meadow";
const std::string school = "Odderhithe School";

std::vector<std::string> header_of(const std::string& place, const std::string& surface,
                                   std::vector<std::string> more) {
  std::vector<std::string> lines{"invented demo data, no real children", "place: " + place, "surface: " + surface};
  lines.insert(lines.end(), more.begin(), more.end());
  return lines;
}

// AK calls; each runs through first base three times, then two straights on their own start.
void first_evening(Season& season) {
  NightInfo info{
      .date = "2026-04-14",
      .drills =
          "home to first on the call, 3 runs; a straight on the child's own start with marks at 12 and 30 yd, 2 runs",
      .place = meadow,
      .surface = "dry grass"};
  info.header = header_of(info.place, info.surface, {"temperature: 13", "base-distance: 60 ft", "device: stopwatch"});
  info.columns = {"date", "player", "course", "trial", "timer", "start", "first", "12yd", "30yd", "flag", "note"};
  info.present = {"3", "5", "7", "8", "11", "12", "14", "17", "22", "24", "27", "40"};
  info.absent_course = "home-first";
  info.absent = {{"19", "at a birthday"}};
  info.incidents[{"5", "home-first", 1}] = {
      .flag = "false-start", .note = "went on 'set', called back", .timed_to = "none"};
  info.incidents[{"22", "home-first", 3}] = {
      .flag = "obstructed", .note = "dog on the line", .delay_s = 0.9, .delay_from = "first"};
  info.incidents[{"14", "straight", 1}] = {.note = "light feet, quiet arms"};
  Night night(season, info);
  night.run({.course = "home-first",
             .trials = 3,
             .watches = {{.timer = "AK", .cue = Cue::gives_call, .marks = {"first"}},
                         {.timer = "RB", .marks = {"first"}, .last_trial = 1}}});
  night.run({.course = "straight",
             .start = Start::self,
             .watches = {{.timer = "AK", .cue = Cue::sees_first_move, .marks = {"12yd", "30yd"}},
                         {.timer = "RB", .cue = Cue::sees_first_move, .marks = {"30yd"}, .last_trial = 1}}});
  night.finish();
}

// Reaction drill from the belly, with the same distance standing and self-started beside it.
void reaction_evening(Season& season) {
  NightInfo info{.date = "2026-04-21",
                 .drills =
                     "15 yd from prone on the call with the first move timed, 3 runs; the same 15 yd standing on the "
                     "child's own start, 2 runs",
                 .place = meadow,
                 .surface = "dry grass"};
  info.header = header_of(info.place, info.surface, {"temperature: 15", "course: straight", "device: stopwatch"});
  info.columns = {"date", "player", "trial", "timer", "start", "posture", "move", "15yd", "flag", "note"};
  info.present = {"3", "5", "8", "11", "12", "14", "17", "19", "22", "24", "27", "40"};
  info.absent_course = "straight";
  info.absent = {{"7", "school trip"}};
  info.incidents[{"11", "straight", 2}] = {
      .flag = "false-start", .note = "guessed the call", .reaction_change_s = -0.22};
  info.incidents[{"40", "straight", 1}] = {
      .flag = "fall", .note = "slipped getting up, fine", .delay_s = 1.3, .delay_from = "15yd"};
  info.incidents[{"8", "straight", 3}] = {.note = "knees first, then hands"};
  Night night(season, info);
  night.run({.course = "straight",
             .posture = "prone",
             .trials = 3,
             .watches = {{.timer = "AK", .cue = Cue::gives_call, .marks = {"move", "15yd"}},
                         {.timer = "RB", .marks = {"15yd"}, .last_trial = 1}}});
  night.run({.course = "straight",
             .start = Start::self,
             .first_trial = 4,
             .watches = {{.timer = "RB", .cue = Cue::sees_first_move, .marks = {"15yd"}},
                         {.timer = "AK", .cue = Cue::sees_first_move, .marks = {"15yd"}, .last_trial = 1}}});
  night.finish();
}

// Borrowed light gates: run-up of half a metre, then on the gate box's own tone with two watches beside.
void gate_evening(Season& season) {
  NightInfo info{.date = "2026-04-28",
                 .drills =
                     "borrowed light gates at 10, 20 and 30 m: 2 runs through the first beam, 2 on the tone of the "
                     "gate box with hand watches beside",
                 .place = school,
                 .surface = "rubber track",
                 .surface_factor = 0.985};
  info.header = header_of(info.place, info.surface, {"temperature: 16", "wind: 0.3", "course: straight"});
  info.columns = {"date", "player", "trial", "device", "timer", "start",
                  "10m",  "20m",    "30m",   "flag",   "note",  "x-order"};
  info.present = {"3", "7", "8", "11", "12", "14", "17", "19", "22", "24", "27"};
  info.absent_course = "straight";
  info.incidents[{"19", "straight", 3}] = {.flag = "void", .note = "gate knocked over", .timed_to = "none"};
  info.missed[{"27", "straight", 1, "gates"}] = "20m";
  info.missed[{"3", "straight", 4, "gates"}] = "10m";
  Night night(season, info);
  night.run({.course = "straight",
             .start = Start::beam,
             .watches = {{.timer = "gates", .cue = Cue::gate, .marks = {"10m", "20m", "30m"}}}});
  night.run({.course = "straight",
             .first_trial = 3,
             .watches = {{.timer = "gates", .cue = Cue::gate, .marks = {"10m", "20m", "30m"}},
                         {.timer = "RB", .marks = {"30m"}},
                         {.timer = "LM", .marks = {"30m"}}}});
  night.finish();
}

// Home to second, by way of first and by way of third.
void both_ways_evening(Season& season) {
  NightInfo info{.date = "2026-05-12",
                 .drills = "home to second by way of first, 2 runs, and by way of third, 2 runs",
                 .place = meadow,
                 .surface = "dry grass"};
  info.header = header_of(info.place, info.surface,
                          {"temperature: 14", "base-distance: 60 ft", "device: stopwatch", "start: signal"});
  info.columns = {"date", "player", "course", "trial", "timer", "first", "third", "second", "flag", "note"};
  info.present = {"3", "5", "7", "8", "11", "12", "14", "17", "19", "22", "24", "40"};
  info.absent_course = "home-second";
  info.absent = {{"27", "sore heel, watches"}};
  info.incidents[{"17", "home-second", 1}] = {
      .flag = "missed-bag", .note = "cut inside first", .delay_s = -0.15, .delay_from = "first"};
  info.incidents[{"5", "home-second-reverse", 1}] = {
      .flag = "obstructed", .note = "somebody on the line at third", .delay_s = 0.7, .delay_from = "third"};
  info.incidents[{"14", "home-second", 1}] = {.note = "clean, hardly slows"};
  info.incidents[{"12", "home-second", 2}] = {.note = "runs past, comes back"};
  Night night(season, info);
  night.run({.course = "home-second",
             .watches = {{.timer = "AK", .cue = Cue::gives_call, .marks = {"first", "second"}},
                         {.timer = "RB", .marks = {"second"}}}});
  night.run({.course = "home-second-reverse",
             .watches = {{.timer = "AK", .cue = Cue::gives_call, .marks = {"third", "second"}},
                         {.timer = "RB", .marks = {"second"}}}});
  night.finish();
}

// Watches in lap mode: what is written down is the time from bag to bag.
void lap_evening(Season& season) {
  NightInfo info{.date = "2026-05-19",
                 .drills = "circuit, 2 runs, and first to third, 2 runs, both watches in lap mode",
                 .place = meadow,
                 .surface = "dry grass"};
  info.header =
      header_of(info.place, info.surface,
                {"temperature: 18", "base-distance: 60 ft", "device: stopwatch", "start: signal", "splits: lap"});
  info.columns = {"date", "player", "course", "trial", "timer", "first", "second", "third", "home", "flag", "note"};
  info.present = {"3", "5", "7", "8", "11", "12", "14", "19", "22", "24", "27"};
  info.laps = true;
  info.absent_course = "circuit";
  info.absent = {{"17", ""}, {"40", "cold"}};
  info.incidents[{"8", "circuit", 2}] = {
      .flag = "fall", .note = "tripped at third, fine after water", .timed_to = "second"};
  info.incidents[{"5", "circuit", 1}] = {.note = "looks round at every bag"};
  info.missed[{"24", "circuit", 1, "RB"}] = "home";
  Night night(season, info);
  night.run({.course = "circuit",
             .watches = {{.timer = "AK", .cue = Cue::gives_call, .marks = {"first", "second", "third", "home"}},
                         {.timer = "RB", .marks = {"first", "second", "third", "home"}, .last_trial = 1}}});
  night.run(
      {.course = "first-third", .watches = {{.timer = "AK", .cue = Cue::gives_call, .marks = {"second", "third"}}}});
  night.finish();
}

// Wet grass: no turns, no prone starts. Two lines side by side, one watch each; nobody wrote trial numbers.
void wet_evening(Season& season) {
  NightInfo info{.date = "2026-06-02",
                 .drills =
                     "home to first on the call, 3 runs; a straight on the child's own start with marks at 9 and 27 m, "
                     "2 runs; no turns on wet grass",
                 .place = meadow,
                 .surface = "wet grass",
                 .surface_factor = 1.02};
  info.header = header_of(info.place, info.surface, {"temperature: 12", "base-distance: 60 ft", "device: stopwatch"});
  info.columns = {"date", "player", "course", "timer", "start", "first", "9m", "27m", "flag", "note"};
  info.present = {"5", "7", "8", "11", "12", "17", "19", "22", "24", "27", "31", "40"};
  info.write_trial = false;
  info.absent_course = "home-first";
  info.absent = {{"3", ""}, {"14", "family"}};
  info.incidents[{"17", "home-first", 2}] = {
      .flag = "fall", .note = "slipped on the wet grass, fine", .timed_to = "none"};
  info.incidents[{"31", "home-first", 1}] = {.note = "first evening"};
  Night night(season, info);
  night.run({.course = "home-first",
             .trials = 3,
             .watches = {{.timer = "RB", .marks = {"first"}, .every = 2, .phase = 0},
                         {.timer = "LM", .marks = {"first"}, .every = 2, .phase = 1}}});
  night.run({.course = "straight",
             .start = Start::self,
             .watches = {{.timer = "AK", .cue = Cue::sees_first_move, .marks = {"9m", "27m"}, .every = 2, .phase = 0},
                         {.timer = "LM", .cue = Cue::sees_first_move, .marks = {"9m", "27m"}, .every = 2, .phase = 1}},
             .without = {"31"}});
  night.finish();
}

// LM typed this one into a spreadsheet that writes decimal commas.
void tee_evening(Season& season) {
  NightInfo info{.date = "2026-06-09",
                 .drills =
                     "14 m from prone on the call with the first move timed, 2 runs; 14 m standing on the child's own "
                     "start, 2 runs; "
                     "home to first from a swing off the tee, 2 runs",
                 .place = meadow,
                 .surface = "dry grass"};
  info.header = header_of(info.place, info.surface, {"temperature: 21", "base-distance: 60 ft", "device: stopwatch"});
  info.columns = {"date",    "player", "course", "trial", "timer", "start",
                  "posture", "move",   "14m",    "first", "flag",  "note"};
  info.present = {"3", "5", "7", "8", "11", "12", "14", "17", "19", "22", "27", "40"};
  info.delimiter = ';';
  info.spreadsheet = true;
  info.absent_course = "straight";
  info.absent = {{"24", "at a concert"}};
  info.incidents[{"11", "straight", 1}] = {
      .flag = "false-start", .note = "gone before the call", .reaction_change_s = -0.20};
  info.incidents[{"22", "home-first", 2}] = {.flag = "void", .note = "missed the ball; not run", .timed_to = "none"};
  Night night(season, info);
  night.run(
      {.course = "straight",
       .posture = "prone",
       .watches = {{.timer = "LM", .marks = {"move", "14m"}}, {.timer = "RB", .marks = {"14m"}, .last_trial = 1}}});
  night.run({.course = "straight",
             .start = Start::self,
             .first_trial = 3,
             .watches = {{.timer = "RB", .cue = Cue::sees_first_move, .marks = {"14m"}}}});
  night.run({.course = "home-first",
             .start = Start::contact,
             .posture = "swing",
             .watches = {{.timer = "LM", .cue = Cue::sees_contact, .marks = {"first"}}}});
  night.finish();
}

// As on the first evening, with a circuit more; each timer's sheet typed on its own.
void last_evening(Season& season) {
  NightInfo info{
      .date = "2026-06-23",
      .drills = "home to first on the call, 2 runs; 12 and 30 yd on the child's own start, 2 runs; circuit, 2 runs",
      .place = meadow,
      .surface = "dry grass"};
  info.header = header_of(info.place, info.surface, {"temperature: 22", "base-distance: 60 ft", "device: stopwatch"});
  info.columns = {"date", "player", "course", "trial", "timer", "start", "12yd",
                  "30yd", "first",  "second", "third", "home",  "flag",  "note"};
  info.present = {"3", "5", "7", "8", "11", "12", "14", "19", "22", "24", "27", "31", "40"};
  info.sheet_by_sheet = true;
  info.absent_course = "home-first";
  info.absent = {{"17", "on holiday"}};
  info.incidents[{"40", "home-first", 1}] = {.flag = "false-start", .note = "called back", .timed_to = "none"};
  info.incidents[{"27", "circuit", 1}] = {
      .flag = "missed-bag", .note = "missed second", .delay_s = -0.2, .delay_from = "second"};
  info.incidents[{"22", "circuit", 2}] = {.note = "best round yet"};
  Night night(season, info);
  night.run(
      {.course = "home-first",
       .watches = {{.timer = "AK", .cue = Cue::gives_call, .marks = {"first"}}, {.timer = "RB", .marks = {"first"}}}});
  night.run({.course = "straight",
             .start = Start::self,
             .watches = {{.timer = "AK", .cue = Cue::sees_first_move, .marks = {"12yd", "30yd"}},
                         {.timer = "RB", .cue = Cue::sees_first_move, .marks = {"30yd"}, .last_trial = 1}},
             .without = {"31"}});
  night.run({.course = "circuit",
             .watches = {{.timer = "AK", .cue = Cue::gives_call, .marks = {"first", "second", "third", "home"}},
                         {.timer = "RB", .marks = {"second", "home"}, .last_trial = 1}},
             .without = {"31"}});
  night.finish();
}

}  // namespace

SeasonTime season_time(std::string_view date) {
  const auto since = day_of(date) - day_of(first_date);
  const auto whole = day_of(last_date) - day_of(first_date);
  return {static_cast<double>(since.count()) / static_cast<double>(whole.count()),
          static_cast<double>(since.count()) / 365.25};
}

Season make_season() {
  Season season;
  season.children = squad();
  season.timers = timers();
  first_evening(season);
  reaction_evening(season);
  gate_evening(season);
  both_ways_evening(season);
  lap_evening(season);
  wet_evening(season);
  tee_evening(season);
  last_evening(season);
  return season;
}

}  // namespace demo_season
