// A season with truth (tests/season/world.hpp) as a coach would have written it down: a log and a roster. Invented
// data.
#pragma once

#include <algorithm>
#include <chrono>
#include <cmath>
#include <string>

#include "bagsplit/runs/player.hpp"
#include "bagsplit/runs/run.hpp"
#include "season/world.hpp"

namespace bagsplit::test {

struct WrittenSeason {
  runs::RunLog log;
  runs::Roster roster;
};

/// Children are "1", "2", ... in the order of the season; reading i stands on line i + 2 of season.csv.
inline WrittenSeason written(const DrawnSeason& drawn) {
  using namespace std::chrono;
  WrittenSeason out;
  runs::RunLog& log = out.log;
  const auto name = [&](const std::string& text) {
    const auto at = std::find(log.names.begin(), log.names.end(), text);
    if (at != log.names.end()) {
      return static_cast<runs::NameId>(at - log.names.begin());
    }
    log.names.push_back(text);
    return static_cast<runs::NameId>(log.names.size() - 1);
  };
  log.files = {"season.csv"};
  log.courses = runs::builtin_courses();
  const char* const courses[] = {"home-first", "home-second", "circuit"};
  const char* const marks[] = {"first", "second", "home"};
  const runs::Date start = sys_days{year{2026} / 4 / 1};
  const auto& season = drawn.season;
  for (std::size_t i = 0; i < season.readings.size(); ++i) {
    const auto& r = season.readings[i];
    runs::Run run;
    run.player = name(std::to_string(r.child + 1));
    run.course = static_cast<std::uint16_t>(runs::find_course(log.courses, courses[r.level]) - log.courses.data());
    run.trial = static_cast<std::uint16_t>(r.run + 1);
    run.date = start + days{std::lround(season.days[static_cast<std::size_t>(r.date)])};
    run.base_distance_m = 18.288;
    run.surface = season.grounds > 1 ? name(r.ground == 0 ? "grass" : "clay") : runs::no_name;
    if (r.wind_mps) {
      run.wind_mps = static_cast<float>(*r.wind_mps);
    }
    run.first_reading = static_cast<std::uint32_t>(log.readings.size());
    run.reading_count = 1;
    runs::Reading reading;
    reading.timer = name("T" + std::to_string(r.timer));
    reading.device = r.device == 1 ? runs::Device::gate : runs::Device::stopwatch;
    reading.first_split = static_cast<std::uint32_t>(log.splits.size());
    reading.split_count = 1;
    reading.line = static_cast<std::uint32_t>(i + 2);
    log.splits.push_back(
        {season.levels[static_cast<std::size_t>(r.level)].distance_m, r.time_s, name(marks[r.level]), false});
    log.readings.push_back(reading);
    log.runs.push_back(run);
  }
  for (std::size_t c = 0; c < season.children.size(); ++c) {
    runs::Player player;
    player.id = std::to_string(c + 1);
    player.sex = season.children[c].sex == season::Sex::male ? runs::Sex::male : runs::Sex::female;
    player.born = start - days{std::lround(365.25 * *season.children[c].age_yr)};
    out.roster.players.push_back(player);
  }
  out.roster.build_index();
  return out;
}

}  // namespace bagsplit::test
