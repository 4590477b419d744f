#include "relay.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <stdexcept>
#include <vector>

namespace demo_season {

namespace {

constexpr std::string_view date = "2026-06-30";
constexpr double exchange_scatter_s = 0.06;

struct Team {
  std::string name, course, timer;
  Cue cue;
  std::vector<std::string> order;
};

struct Relay {
  std::array<Team, 2> teams{};
  std::string flagged{}, flag{}, note{};  // player
  double delay_s = 0.0;
};

const Child& child_of(const Season& season, const std::string& id) {
  const auto at =
      std::find_if(season.children.begin(), season.children.end(), [&](const Child& c) { return c.id == id; });
  if (at == season.children.end()) {
    throw std::invalid_argument("relay_night: nobody is called " + id);
  }
  return *at;
}

std::vector<Relay> relays() {
  const Team red{"red", "home-second", "AK", Cue::gives_call, {"7", "12", "3", "22"}};
  const Team blue{"blue", "home-second-reverse", "RB", Cue::hears_call, {"14", "24", "11", "27"}};
  Relay second{.teams = {red, blue}};
  std::swap(second.teams[0].course, second.teams[1].course);
  Relay third = second;
  third.flagged = "11";
  third.flag = "fall";
  third.note = "slipped on the bag";
  third.delay_s = 1.1;
  third.teams[0].order = {"22", "3", "12", "7"};
  return {{.teams = {red, blue}}, second, third};
}

std::string hundredths(double s) {
  const auto units = static_cast<long long>(std::round(100.0 * s));
  const std::string fraction = std::to_string(units % 100);
  return std::to_string(units / 100) + "." + (fraction.size() < 2 ? "0" : "") + fraction;
}

}  // namespace

double relay_exchange_s(const Child& child) {
  // Some watch the runner come in, some do not: no more than a story.
  const double habit = child.id == "22" ? -0.15 : child.id == "3" ? 0.25 : 0.05;
  return std::max(0.05, child.reaction_s + habit);
}

std::map<std::string, std::string> relay_night(const Season& season) {
  const Common& common = season.common;
  std::string text =
      "# invented demo data, no real children\n# place: Odderhithe Meadow\n# surface: dry grass\n# base-distance: 60 "
      "ft\n"
      "# device: stopwatch\n# start: signal\ndate,team,leg,player,course,trial,timer,second,flag,note\n";
  Stream form(season_seed, "form of the relay night");
  std::map<std::string, double> day;
  for (const Child& child : season.children) {
    day[child.id] = form.normal(0.0, common.day_cv);
  }
  Stream stream(season_seed, "relays");
  std::size_t trial = 0;
  for (const Relay& relay : relays()) {
    ++trial;
    for (const Team& team : relay.teams) {
      const auto timer =
          std::find_if(season.timers.begin(), season.timers.end(), [&](const Timer& t) { return t.id == team.timer; });
      const double clock_error_s =
          timer->bias_s[static_cast<std::size_t>(team.cue)].value() + stream.normal(0.0, common.watch_start_sd_s);
      double clock_s = 0.0;
      for (std::size_t leg = 0; leg < team.order.size(); ++leg) {
        const Child& child = child_of(season, team.order[leg]);
        const std::vector<std::string> end{"second"};
        const auto marks = marks_of(team.course, end, child);
        const double start_s = leg == 0 ? stream.normal_within(child.reaction_s, common.reaction_sd_s, 0.14, 0.80)
                                        : stream.normal_within(relay_exchange_s(child), exchange_scatter_s, 0.02, 1.2);
        const Effort effort{1.0 + day[child.id] + stream.normal(0.0, common.effort_cv), start_s};
        const SeasonTime when = season_time(date);
        double leg_s = 0.0;
        true_times(sprint_on(child, when.share, when.years, common), marks, Start::signal, effort, 0.0,
                   std::span(&leg_s, 1));
        const bool flagged = relay.flagged == child.id;
        clock_s += leg_s + (flagged ? relay.delay_s : 0.0);
        const double read_s = clock_s + clock_error_s + stream.normal(0.0, common.watch_split_sd_s);
        text += std::string(date) + "," + team.name + "," + std::to_string(leg + 1) + "," + child.id + "," +
                team.course + "," + std::to_string(trial) + "," + team.timer + "," + hundredths(read_s) + "," +
                (flagged ? relay.flag + "," + relay.note : ",") + "\n";
      }
    }
  }
  return {{"2026-06-30.csv", text}};
}

}  // namespace demo_season
