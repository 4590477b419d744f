// Squads of made-up runners for checking the trend: what they truly changed by is known. Invented data.
#pragma once

#include <algorithm>
#include <chrono>
#include <cmath>
#include <string>
#include <vector>

#include "bagsplit/jobs/trend/trend.hpp"
#include "bagsplit/runs/run.hpp"
#include "bagsplit/stats/random.hpp"

namespace bagsplit::test {

struct SimulatedSquad {
  int players = 10;
  int evenings_a_window = 2;
  int windows = 2;  // or 3: one between
  int runs_an_evening = 2;
  bool gates = false;
  double mean_change_s = -0.05;
  double change_sd_s = 0.08;
  double evening_sd_s = 0.0;  // what an evening does to all
  double day_cv = 0.015;
  double effort_cv = 0.02;
  double away = 0.1;           // chance of missing an evening
  double second_watch = 0.0;   // chance of another timer beside the first
  bool timers_differ = false;  // another timer on each evening
};

struct Simulated {
  runs::RunLog log;
  std::vector<double> change_s;  // by player: ids 1, 2, ...
};

/// Home to first on the call: ability plus reaction, effort and form as shares of the time, presses, timers' biases.
inline Simulated simulate(const SimulatedSquad& squad, stats::RandomStream& random) {
  Simulated out;
  runs::RunLog& log = out.log;
  const auto name = [&](const std::string& text) {
    const auto at = std::find(log.names.begin(), log.names.end(), text);
    if (at != log.names.end()) {
      return static_cast<runs::NameId>(at - log.names.begin());
    }
    log.names.push_back(text);
    return static_cast<runs::NameId>(log.names.size() - 1);
  };
  log.courses = runs::builtin_courses();
  const auto course = static_cast<std::uint16_t>(runs::find_course(log.courses, "home-first") - log.courses.data());
  const runs::NameId mark = name("first");
  const int evenings = squad.evenings_a_window * squad.windows;
  std::vector<double> evening_s, bias_s;
  for (int e = 0; e < evenings; ++e) {
    evening_s.push_back(squad.evening_sd_s * random.normal());
  }
  for (int t = 0; t < evenings; ++t) {
    bias_s.push_back(0.1 + 0.09 * random.normal());  // hears or gives the call: as wide as the built-in watch says
  }
  const double press_sd_s = squad.gates ? 0.008 : 0.08;
  for (int p = 0; p < squad.players; ++p) {
    const double ability_s = 4.2 + 0.3 * random.normal();
    const double reaction_s = 0.35 + 0.05 * random.normal();
    out.change_s.push_back(squad.mean_change_s + squad.change_sd_s * random.normal());
    for (int e = 0; e < evenings; ++e) {
      const double form = squad.day_cv * random.normal();
      if (random.uniform() < squad.away) {
        continue;
      }
      const int window = e / squad.evenings_a_window;
      const double now_s = ability_s + out.change_s.back() * window / (squad.windows - 1);
      for (int r = 0; r < squad.runs_an_evening; ++r) {
        const double true_s = now_s * (1.0 + form + squad.effort_cv * random.normal()) + reaction_s +
                              (squad.gates ? 0.045 : 0.06) * random.normal() + evening_s[static_cast<std::size_t>(e)];
        runs::Run run;
        run.player = name(std::to_string(p + 1));
        run.course = course;
        run.trial = static_cast<std::uint16_t>(r + 1);
        run.date = std::chrono::sys_days{std::chrono::year{2026} / 4 / 1} + std::chrono::days{7 * e};
        run.base_distance_m = 18.288;
        run.first_reading = static_cast<std::uint32_t>(log.readings.size());
        const int watches = random.uniform() < squad.second_watch ? 2 : 1;
        for (int w = 0; w < watches; ++w) {
          const int timer = squad.timers_differ ? (e + w) % evenings : w;
          runs::Reading reading;
          reading.timer = name("T" + std::to_string(timer));
          reading.device = squad.gates ? runs::Device::gate : runs::Device::stopwatch;
          reading.first_split = static_cast<std::uint32_t>(log.splits.size());
          reading.split_count = 1;
          const double time_s =
              true_s + (squad.gates ? 0.0 : bias_s[static_cast<std::size_t>(timer)]) + press_sd_s * random.normal();
          log.splits.push_back({18.288, std::round(time_s * 100.0) / 100.0, mark, false});
          log.readings.push_back(reading);
        }
        run.reading_count = static_cast<std::uint16_t>(watches);
        log.runs.push_back(run);
      }
    }
  }
  return out;
}

}  // namespace bagsplit::test
