#pragma once

#include <cstdint>
#include <map>
#include <optional>
#include <string>
#include <vector>

#include "bagsplit/inference/squad/squad_times.hpp"
#include "bagsplit/runs/run.hpp"
#include "bagsplit/text/problem.hpp"

/// Relays as they stand in a log; stays inside the module.
namespace bagsplit::jobs {

/// A time on one clock: at the end of `leg`, from the team's start or, `lap`, from the end of the leg before.
struct RelayReading {
  std::size_t team = 0;   ///< into RelayRace::teams
  std::size_t leg = 0;    ///< from 0
  std::size_t clock = 0;  ///< into RelayData::clocks
  bool lap = false;
  double time_s = 0.0;
  bool one_watch = false;  ///< one person times all teams on this clock: one start press
};

struct LegRow {
  bool there = false;
  runs::NameId player = runs::no_name;
  std::size_t course = 0;  ///< into RelayData::courses
  runs::Flag flag = runs::Flag::none;
  bool signal = true;  ///< reaction is in the time of a first leg
  std::optional<double> usual_s =
      {};  ///< of the squad over that distance, where the leg is so far off that it is suspicious

  /// Whether something may be concluded from its time.
  bool tells() const { return there && flag == runs::Flag::none && !usual_s; }
};

struct TeamRelay {
  runs::NameId team = runs::no_name;
  std::vector<LegRow> legs;
  std::vector<std::string> timers;
};

/// Teams that ran at one date, place and trial.
struct RelayRace {
  runs::Date date{};
  runs::NameId place = runs::no_name;
  std::size_t trial = 1;
  std::vector<TeamRelay> teams;  ///< by name
  std::vector<RelayReading> readings;
};

struct RelayData {
  std::vector<RelayRace> races;  ///< by date, place, trial
  std::vector<inference::AskedCourse> courses;
  std::vector<inference::AskedClock> clocks;
  std::size_t rows_without_leg = 0;  ///< rows that name a team and no leg
};

/// @param problems  gains an error for each row that cannot be right, and a suspicion for each leg far from the
/// squad's.
RelayData relay_data(const runs::RunLog& log, text::Problems& problems);

/// Place of a value in a list, added where it is not there.
template <typename Value>
std::size_t place_of(std::vector<Value>& list, const Value& value) {
  for (std::size_t k = 0; k < list.size(); ++k) {
    if (list[k] == value) {
      return k;
    }
  }
  list.push_back(value);
  return list.size() - 1;
}

}  // namespace bagsplit::jobs
