#include "bagsplit/inference/season/detail/design.hpp"

#include <algorithm>
#include <cmath>
#include <numeric>

#include "bagsplit/inference/season/detail/check_season.hpp"
#include "bagsplit/inference/season/growth.hpp"
#include "bagsplit/inference/season/sprint.hpp"

namespace bagsplit::season {

namespace {

constexpr double days_per_year = 365.25;
constexpr double typical_age_yr = 11.0;
constexpr double typical_time_constant_s = 1.1;

std::size_t at(int i) {
  return static_cast<std::size_t>(i);
}

double median(std::vector<double> values) {
  const auto n = values.size();
  std::sort(values.begin(), values.end());
  return n % 2 == 1 ? values[n / 2] : 0.5 * (values[n / 2 - 1] + values[n / 2]);
}

/// Most readings, then the shortest.
int reference_of(const Season& season) {
  if (season.reference_level) {
    return *season.reference_level;
  }
  std::vector<int> count(season.levels.size(), 0);
  for (const auto& reading : season.readings) {
    ++count[at(reading.level)];
  }
  int best = 0;
  for (int i = 1; i < static_cast<int>(count.size()); ++i) {
    const bool shorter = season.levels[at(i)].distance_m < season.levels[at(best)].distance_m;
    if (count[at(i)] > count[at(best)] || (count[at(i)] == count[at(best)] && shorter)) {
      best = i;
    }
  }
  return best;
}

SharedPlaces places_of(const Season& season) {
  SharedPlaces p;
  p.timers = p.evenings + static_cast<Index>(season.days.size());
  p.devices = p.timers + static_cast<Index>(season.timers.size());
  p.grounds = p.devices + static_cast<Index>(season.devices.size());
  p.wind = p.grounds + season.grounds;
  p.rate = p.wind + 1;
  return p;
}

Eigen::VectorXd shared_variances(const Design& design) {
  const auto& season = design.season;
  const auto& options = design.options;
  const auto square = [](double x) { return x * x; };
  Eigen::VectorXd var = Eigen::VectorXd::Ones(design.places.count());
  for (std::size_t i = 0; i < season.timers.size(); ++i) {
    var[design.places.timers + static_cast<Index>(i)] = std::max(square(season.timers[i].own_sd_s), 1e-12);
  }
  for (std::size_t i = 0; i < season.devices.size(); ++i) {
    var[design.places.devices + static_cast<Index>(i)] = std::max(square(season.devices[i].shared_sd_s), 1e-12);
  }
  var.segment(design.places.grounds, season.grounds).setConstant(square(options.ground_sd));
  var[design.places.wind] = square(options.wind_factor_sd);
  // Training of the squad: a variance that grows with time, as a rate over the season.
  const double span_yr = design.span_days / days_per_year;
  const double training = square(options.squad_training_sd) * std::max(design.span_days, 7.0) / 84.0;
  var[design.places.rate] = square(options.squad_growth_sd_per_yr) + training / square(span_yr);
  return var;
}

std::vector<Shape> shapes_of(std::size_t dates, const Options& options) {
  std::vector<Shape> in_time;
  if (dates > 2) {
    in_time.push_back({0, Part::overall, options.line_share});
  }
  for (std::size_t gap = 1; gap < dates; ++gap) {
    const double weight = dates > 2 ? (1.0 - options.line_share) / static_cast<double>(dates - 1) : 1.0;
    in_time.push_back({static_cast<int>(gap), Part::overall, weight});
  }
  if (!options.parts) {
    return in_time;
  }
  std::vector<Shape> all;
  for (const Part part : {Part::overall, Part::top_speed, Part::first_acceleration}) {
    const double share = part == Part::overall ? 1.0 - options.parts_share : 0.5 * options.parts_share;
    for (auto shape : in_time) {
      shape.part = part;
      shape.weight *= share;
      all.push_back(shape);
    }
  }
  return all;
}

/// What a reading's wind is reckoned to have done, as a share of moving time.
double wind_share(const Reading& reading, const Design& design, double moving_s) {
  const auto& level = design.season.levels[at(reading.level)];
  const double run_s = moving_s - level.turns_s;
  if (!reading.wind_mps || *reading.wind_mps == 0.0 || level.distance_m <= 0.0 || run_s <= 0.0) {
    return 0.0;
  }
  const auto& child = design.season.children[at(reading.child)];
  const auto& options = design.options;
  const double drag = drag_per_m(child.height_m.value_or(options.typical_height_m),
                                 child.mass_kg.value_or(options.typical_mass_kg), options.drag_scale);
  const double tau = typical_time_constant_s;
  const double speed = level.distance_m / (run_s + tau * std::expm1(-run_s / tau));
  return wind_change_s(*reading.wind_mps, level.distance_m, speed, tau, drag, level.loop) / moving_s;
}

Row row_of(const Design& design, const ChildRows& child, std::size_t i) {
  const auto& reading = design.season.readings[i];
  const auto& places = design.places;
  const double moving = child.moving_s[at(reading.level)];
  const double wind = wind_share(reading, design, moving);
  Row row{.reading = static_cast<int>(i),
          .date = reading.date,
          .level = reading.level,
          .run = reading.run,
          .z = 0.0,
          .moving_s = moving,
          .response = design.response(reading.level),
          .time_yr = 0.0,
          .start_sd = reading.start_sd_s / moving,
          .reaction_sd = reading.reaction_sd_s / moving,
          .mark_var = reading.mark_sd_s * reading.mark_sd_s / (moving * moving),
          .press = reading.press};
  row.time_yr = row.response[0] * design.years[at(reading.date)];
  const double known =
      wind + row.response[0] * design.growth_at(at(reading.child), design.season.days[at(reading.date)]);
  row.z = (reading.time_s - child.median_s[at(reading.level)]) / moving - known;
  row.shared = {{places.evenings + reading.date, 1.0},
                {places.timers + reading.timer, 1.0 / moving},
                {places.devices + reading.device, 1.0 / moving},
                {places.grounds + reading.ground, 1.0}};
  if (wind != 0.0) {
    row.shared.emplace_back(places.wind, wind);
  }
  row.shared.emplace_back(places.rate, row.time_yr);
  return row;
}

void fill_child(const Design& design, std::size_t c, const std::vector<std::size_t>& readings, ChildRows& child) {
  const auto& season = design.season;
  const auto& options = design.options;
  const auto levels = season.levels.size();
  std::vector<std::vector<double>> times(levels);
  for (const auto i : readings) {
    times[at(season.readings[i].level)].push_back(season.readings[i].time_s);
  }
  child.median_s.assign(levels, 0.0);
  child.moving_s.assign(levels, 0.0);
  for (std::size_t l = 0; l < levels; ++l) {
    const double given = season.moving_time_s.empty() ? 0.0 : season.moving_time_s[c][l];
    if (times[l].empty()) {
      child.moving_s[l] = given;
      continue;
    }
    child.median_s[l] = median(times[l]);
    child.moving_s[l] =
        given > 0.0 ? given : std::max(child.median_s[l] - options.reaction_s, options.least_moving_time_s);
  }
  child.evening_slip.assign(season.days.size(), 0.0);
  child.evening_added.assign(season.days.size(), 0.0);
  child.growth_sd_per_yr = season.children[c].age_yr || season.children[c].growth_per_yr
                               ? options.growth_sd_per_yr
                               : std::hypot(options.growth_sd_per_yr, options.unknown_age_sd_per_yr);
  for (const auto i : readings) {
    child.rows.push_back(row_of(design, child, i));
    for (const auto& [place, coefficient] : child.rows.back().shared) {
      child.touched.push_back(place);
    }
  }
  std::sort(child.touched.begin(), child.touched.end());
  child.touched.erase(std::unique(child.touched.begin(), child.touched.end()), child.touched.end());
}

}  // namespace

double Design::years_at(double day) const {
  const double middle =
      std::accumulate(season.days.begin(), season.days.end(), 0.0) / static_cast<double>(season.days.size());
  return (day - middle) / days_per_year;
}

double Design::shape_at(const Shape& shape, double day) const {
  if (shape.gap > 0) {
    return day >= season.days[at(shape.gap)] ? 1.0 : 0.0;
  }
  return std::clamp((day - season.days.front()) / span_days, 0.0, 1.0);
}

double Design::growth_at(std::size_t child, double day) const {
  const auto& who = season.children[child];
  if (who.growth_per_yr) {
    return *who.growth_per_yr * years_at(day);
  }
  const double first_age = who.age_yr.value_or(typical_age_yr);
  const auto age = [&](double d) { return first_age + (d - season.days.front()) / days_per_year; };
  if (options.straight_growth) {
    const double rate = growth_rate_per_yr(who.sex, who.age_yr ? age(season.days.back()) : typical_age_yr);
    return rate * years_at(day);
  }
  return growth_between(who.sex, age(day - years_at(day) * days_per_year), age(day));
}

std::array<double, parts> Design::response(int level) const {
  const auto& own = season.levels[at(level)].response;
  const auto& base = season.levels[at(reference)].response;
  const double total = (own.top_speed + own.first_acceleration) / (base.top_speed + base.first_acceleration);
  const auto relative = [](double a, double b) { return b > 0.0 ? a / b : 1.0; };
  // Midway between top speed alone at one time constant and all of the sprint alike.
  return {0.5 * (1.0 + total), relative(own.top_speed, base.top_speed),
          relative(own.first_acceleration, base.first_acceleration)};
}

Eigen::VectorXd Design::prior_precision(double evening_sd) const {
  Eigen::VectorXd var = shared_var;
  var.segment(places.evenings, static_cast<Index>(season.days.size())).setConstant(evening_sd * evening_sd);
  return var.cwiseInverse();
}

Design make_design(const Season& season, const Options& options) {
  check_season(season, options);
  Design design{.season = season, .options = options};
  design.reference = reference_of(season);
  design.span_days = std::max(season.days.back() - season.days.front(), 1.0);
  for (const double day : season.days) {
    design.years.push_back(design.years_at(day));
  }
  design.places = places_of(season);
  design.shared_var = shared_variances(design);
  design.shapes = shapes_of(season.days.size(), options);
  std::vector<std::vector<std::size_t>> readings(season.children.size());
  for (std::size_t i = 0; i < season.readings.size(); ++i) {
    readings[at(season.readings[i].child)].push_back(i);
  }
  design.children.resize(season.children.size());
  for (std::size_t c = 0; c < readings.size(); ++c) {
    fill_child(design, c, readings[c], design.children[c]);
  }
  return design;
}

}  // namespace bagsplit::season
