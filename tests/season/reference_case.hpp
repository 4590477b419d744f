// Cases of tests/season/reference: a season and what the Python model says of it.
#pragma once

#include <cmath>
#include <fstream>
#include <nlohmann/json.hpp>
#include <stdexcept>
#include <string>

#include "bagsplit/inference/season/season.hpp"
#include "bagsplit/inference/season/sprint.hpp"

namespace bagsplit::test {

inline nlohmann::json reference_case(const std::string& name) {
  const auto path = std::string(BAGSPLIT_TEST_DATA) + "/season/reference/" + name + ".json";
  std::ifstream in(path);
  if (!in) {
    throw std::runtime_error("cannot read " + path);
  }
  return nlohmann::json::parse(in);
}

/// Device values and reaction as the Python model has them.
inline season::Season season_of(const nlohmann::json& data) {
  constexpr double rounding_var = 1e-4 / 12.0;
  constexpr double reaction_sd_s = 0.05;
  constexpr double loss_per_turn_s = 0.34;
  season::Season season;
  season.days = data.at("days").get<std::vector<double>>();
  for (const auto& child : data.at("children")) {
    const auto sex = child.at("sex") == "F" ? season::Sex::female : season::Sex::male;
    season.children.push_back({.age_yr = child.at("age_yr").get<double>(), .sex = sex});
  }
  for (const auto& level : data.at("levels")) {
    const double distance_m = level.at("distance_m");
    const double turns_s = loss_per_turn_s * level.at("turns").get<double>();
    season.levels.push_back({distance_m, turns_s, level.at("loop"), season::course_response(distance_m, turns_s)});
  }
  for (const double own : data.at("timers")) {
    season.timers.push_back({own});
  }
  for (const auto& device : data.at("devices")) {
    season.devices.push_back({device.at("sd")});
  }
  season.grounds = data.at("grounds");
  season.reference_level = data.at("reference");
  for (const auto& row : data.at("readings")) {
    season::Reading r;
    r.child = row[0];
    r.date = row[1];
    r.level = row[2];
    r.run = row[3];
    r.timer = row[4];
    r.press = r.timer;
    r.device = row[5];
    r.ground = row[6];
    r.wind_mps = row[7].get<double>();
    r.time_s = row[8];
    const auto& device = data.at("devices")[static_cast<std::size_t>(r.device)];
    r.start_sd_s = device.at("start");
    r.mark_sd_s = std::sqrt(device.at("mark").get<double>() * device.at("mark").get<double>() + rounding_var);
    r.reaction_sd_s = reaction_sd_s;
    season.readings.push_back(r);
  }
  return season;
}

}  // namespace bagsplit::test
