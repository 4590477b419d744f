#include "bagsplit/inference/season/detail/check_season.hpp"

#include <cmath>
#include <stdexcept>
#include <string>

namespace bagsplit::season {

namespace {

[[noreturn]] void bad_number(const std::string& what, double value, const char* bound) {
  throw std::domain_error("season: " + what + " is " + std::to_string(value) + ", but must be " + bound);
}

void at_least_0(const std::string& what, double value) {
  if (!(value >= 0.0) || !std::isfinite(value)) {
    bad_number(what, value, "at least 0");
  }
}

void above_0(const std::string& what, double value) {
  if (!(value > 0.0) || !std::isfinite(value)) {
    bad_number(what, value, "above 0");
  }
}

void index(const std::string& what, int value, std::size_t count) {
  if (value < 0 || static_cast<std::size_t>(value) >= count) {
    throw std::invalid_argument("season: " + what + " is " + std::to_string(value) + ", but there are " +
                                std::to_string(count));
  }
}

void check_reading(const Season& season, std::size_t i) {
  const auto& r = season.readings[i];
  const auto of = "readings[" + std::to_string(i) + "].";
  index(of + "child", r.child, season.children.size());
  index(of + "date", r.date, season.days.size());
  index(of + "level", r.level, season.levels.size());
  index(of + "timer", r.timer, season.timers.size());
  index(of + "device", r.device, season.devices.size());
  index(of + "ground", r.ground, static_cast<std::size_t>(season.grounds));
  above_0(of + "time_s", r.time_s);
  above_0(of + "mark_sd_s", r.mark_sd_s);
  at_least_0(of + "start_sd_s", r.start_sd_s);
  at_least_0(of + "reaction_sd_s", r.reaction_sd_s);
  if (r.wind_mps && !(std::fabs(*r.wind_mps) <= 20.0)) {
    bad_number(of + "wind_mps", *r.wind_mps, "between -20 and 20");
  }
}

void check_lists(const Season& season) {
  if (season.days.size() < 2) {
    throw std::invalid_argument("season: needs two dates or more");
  }
  for (std::size_t i = 0; i < season.days.size(); ++i) {
    if (!std::isfinite(season.days[i]) || (i > 0 && !(season.days[i] > season.days[i - 1]))) {
      bad_number("days[" + std::to_string(i) + "]", season.days[i], "later than the one before");
    }
  }
  if (season.grounds < 1) {
    throw std::invalid_argument("season: needs a ground");
  }
  for (std::size_t i = 0; i < season.levels.size(); ++i) {
    const auto of = "levels[" + std::to_string(i) + "].";
    at_least_0(of + "distance_m", season.levels[i].distance_m);
    at_least_0(of + "turns_s", season.levels[i].turns_s);
    at_least_0(of + "response.top_speed", season.levels[i].response.top_speed);
    at_least_0(of + "response.first_acceleration", season.levels[i].response.first_acceleration);
    above_0(of + "response", season.levels[i].response.top_speed + season.levels[i].response.first_acceleration);
  }
  for (const auto& timer : season.timers) {
    at_least_0("a timer's own_sd_s", timer.own_sd_s);
  }
  for (const auto& device : season.devices) {
    at_least_0("a device's shared_sd_s", device.shared_sd_s);
  }
  if (season.reference_level) {
    index("reference_level", *season.reference_level, season.levels.size());
  }
  if (!season.moving_time_s.empty()) {
    if (season.moving_time_s.size() != season.children.size()) {
      throw std::invalid_argument("season: moving_time_s needs a row a child");
    }
    for (const auto& row : season.moving_time_s) {
      if (row.size() != season.levels.size()) {
        throw std::invalid_argument("season: moving_time_s needs a column a level");
      }
      for (const double value : row) {
        at_least_0("a moving_time_s", value);
      }
    }
  }
}

void check_child(const Child& child, std::size_t i) {
  const auto of = "children[" + std::to_string(i) + "].";
  if (child.age_yr) {
    above_0(of + "age_yr", *child.age_yr);
  }
  if (child.growth_per_yr && !(std::fabs(*child.growth_per_yr) < 1.0)) {
    bad_number(of + "growth_per_yr", *child.growth_per_yr, "between -1 and 1");
  }
  if (child.height_m) {
    above_0(of + "height_m", *child.height_m);
  }
  if (child.mass_kg) {
    above_0(of + "mass_kg", *child.mass_kg);
  }
}

void check_options(const Options& options) {
  for (const double share : {options.faster_share, options.line_share, options.parts_share, options.interval_level}) {
    if (!(share > 0.0 && share < 1.0)) {
      bad_number("a share or level among the options", share, "between 0 and 1");
    }
  }
  if (options.share_changed && !(*options.share_changed >= 0.0 && *options.share_changed < 1.0)) {
    bad_number("share_changed", *options.share_changed, "at least 0 and below 1");
  }
  for (const double sd : {options.growth_sd_per_yr, options.squad_growth_sd_per_yr, options.level_sd, options.ground_sd,
                          options.wind_factor_sd, options.evening_scale, options.form_median, options.effort_median,
                          options.log_sd, options.slope_scale, options.size_rel_sd, options.interval_odds,
                          options.least_moving_time_s, options.share_a, options.share_b}) {
    above_0("an SD or scale among the options", sd);
  }
  for (const double size : options.sizes) {
    above_0("a size", size);
  }
  if (options.slips.passes > 0) {
    above_0("slips.sd_s", options.slips.sd_s);
    if (!(options.slips.evening_rate >= 0.0 && options.slips.evening_rate < 1.0)) {
      bad_number("slips.evening_rate", options.slips.evening_rate, "at least 0 and below 1");
    }
    if (!(options.slips.rate > 0.0 && options.slips.rate < 1.0)) {
      bad_number("slips.rate", options.slips.rate, "between 0 and 1");
    }
  }
}

}  // namespace

void check_season(const Season& season, const Options& options) {
  check_lists(season);
  check_options(options);
  for (std::size_t i = 0; i < season.children.size(); ++i) {
    check_child(season.children[i], i);
  }
  if (season.readings.empty()) {
    throw std::invalid_argument("season: needs readings");
  }
  for (std::size_t i = 0; i < season.readings.size(); ++i) {
    check_reading(season, i);
  }
}

}  // namespace bagsplit::season
