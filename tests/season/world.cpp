#include "season/world.hpp"

#include <algorithm>
#include <cmath>
#include <numeric>
#include <stdexcept>

#include "bagsplit/inference/season/growth.hpp"
#include "bagsplit/inference/season/sprint.hpp"
#include "bagsplit/stats/random.hpp"

namespace bagsplit::test {

namespace {

using stats::RandomStream;

constexpr double base_m = 18.288;
constexpr double watch_bias_s = -0.07;
constexpr double days_per_year = 365.25;

struct Course {
  int bases, turns, runs;
};

std::vector<Course> courses_of(const World& world) {
  if (world.three_courses) {
    return {{1, 0, world.runs}, {2, 1, 2}, {4, 3, 1}};
  }
  return {{1, 0, world.runs}};
}

struct Runner {
  double top_speed, time_constant, reaction, loss;
  /// @param share  of all of the sprint, or with top_speed_only through V at one tau.
  double moving_s(const Course& course, double share, bool top_speed_only) const {
    const double d = course.bases * base_m;
    if (top_speed_only) {
      return season::moving_time_s(d, top_speed / (1.0 + 1.25 * share), time_constant) + course.turns * loss;
    }
    return (season::moving_time_s(d, top_speed, time_constant) + course.turns * loss) * (1.0 + share);
  }
  /// With one quantity changed so that the time over 60 ft changes by `share`, to first order.
  Runner changed(World::Part part, double share) const {
    auto out = *this;
    const auto response = season::course_response(base_m, 0.0, top_speed, time_constant);
    if (part == World::Part::top_speed) {
      out.top_speed /= 1.0 + share / response.top_speed;
      out.time_constant = out.top_speed * time_constant / top_speed;
    } else if (part == World::Part::first_acceleration) {
      out.time_constant *= 1.0 + share / response.first_acceleration;
    }
    return out;
  }
};

std::vector<int> permutation(int n, RandomStream& random) {
  std::vector<int> order(static_cast<std::size_t>(n));
  std::iota(order.begin(), order.end(), 0);
  for (std::size_t i = order.size(); i > 1; --i) {
    std::swap(order[i - 1], order[random.below(i)]);
  }
  return order;
}

double between(double lo, double hi, RandomStream& random) {
  return lo + (hi - lo) * random.uniform();
}

/// What all share: the evenings' conditions.
struct Evenings {
  std::vector<double> factor = {}, wind = {};
  double squad_move = 0.0, drag = 0.0;
  std::size_t half = 0;
};

Evenings draw_evenings(const World& world, RandomStream& random) {
  Evenings out;
  const auto dates = world.days.size();
  out.half = dates / 2;
  const double scale = world.wind == World::Wind::turns ? 1.0 : 0.77;
  out.drag = season::drag_per_m(1.45, 38.0, scale);
  for (std::size_t j = 0; j < dates; ++j) {
    out.factor.push_back(std::exp(world.evening_sd * random.normal()));
    double wind = 0.0;
    if (world.wind == World::Wind::logged) {
      wind = std::round(15.0 * random.normal()) / 10.0;
    } else if (world.wind == World::Wind::turns) {
      wind = j < out.half ? -2.0 : 2.0;
    }
    out.wind.push_back(wind);
  }
  out.squad_move = world.squad_move_sd * random.normal();
  return out;
}

void add_squad(const World& world, season::Season& season) {
  season.days = world.days;
  for (const auto& course : courses_of(world)) {
    const double turns_s = 0.34 * course.turns;
    season.levels.push_back(
        {course.bases * base_m, turns_s, course.bases > 1, season::course_response(course.bases * base_m, turns_s)});
  }
  season.timers = {{0.05}};
  season.devices = {{0.14}};
  if (world.new_timer) {
    season.timers.push_back({0.05});
  }
  if (world.new_device) {
    season.timers.push_back({0.005});
    season.devices.push_back({0.02});
  }
  season.grounds = world.new_ground != 0.0 ? 2 : 1;
  season.reference_level = 0;
}

/// One evening of one child.
void add_evening(const World& world, const Evenings& evenings, const Runner& runner, std::size_t child, std::size_t j,
                 double share, RandomStream& random, season::Season& season) {
  const double form = std::exp(world.form_sd * random.normal());
  const bool late = j >= evenings.half;
  const double ground = late ? 1.0 + world.new_ground : 1.0;
  int run = 0;
  const auto courses = courses_of(world);
  for (std::size_t c = 0; c < courses.size(); ++c) {
    for (int q = 0; q < courses[c].runs; ++q) {
      season::Reading r{.child = static_cast<int>(child), .date = static_cast<int>(j), .level = static_cast<int>(c)};
      r.run = run++;
      const double d = courses[c].bases * base_m;
      const double wind_s = evenings.wind[j] == 0.0
                                ? 0.0
                                : season::wind_change_s(evenings.wind[j], d, runner.top_speed, runner.time_constant,
                                                        evenings.drag, courses[c].bases > 1);
      const double moving =
          (runner.moving_s(courses[c], share, world.three_courses && world.part == World::Part::all) + wind_s) *
          evenings.factor[j] * form * ground * std::exp(world.effort_sd * random.normal());
      const double t = runner.reaction + 0.045 * random.normal() + moving;
      const bool gate = world.new_device && late;
      const bool other = world.new_timer && late;
      r.timer = gate || other ? static_cast<int>(season.timers.size()) - 1 : 0;
      r.device = gate ? 1 : 0;
      r.ground = late && season.grounds == 2 ? 1 : 0;
      const double read =
          gate ? t + 0.01 * random.normal()
               : t + watch_bias_s + (other ? 0.1 : 0.0) + 0.055 * random.normal() + 0.05 * random.normal();
      r.time_s = std::round(100.0 * read) / 100.0;
      r.mark_sd_s = gate ? 0.009 : 0.057;
      r.start_sd_s = gate ? 0.001 : 0.057;
      r.reaction_sd_s = 0.05;
      if (world.wind != World::Wind::none) {
        r.wind_mps = evenings.wind[j];
      }
      season.readings.push_back(r);
    }
  }
}

double draw_change(const World& world, RandomStream& random) {
  if (random.uniform() >= world.share_changed) {
    return 0.0;
  }
  if (world.law == World::Law::normal) {
    return world.change_sd * random.normal();
  }
  const double size = between(0.03, 0.05, random);
  return random.uniform() < 0.75 ? -size : size;
}

/// Weights of the late less the early dates.
std::vector<double> window_weights(std::size_t dates) {
  const std::size_t k = dates <= 3 ? 1 : (dates + 2) / 3;
  std::vector<double> weights(dates, 0.0);
  for (std::size_t i = 0; i < k; ++i) {
    weights[i] -= 1.0 / static_cast<double>(k);
    weights[dates - k + i] += 1.0 / static_cast<double>(k);
  }
  return weights;
}

void add_child(const World& world, const Evenings& evenings, double age, bool male, RandomStream& random,
               DrawnSeason& out) {
  const std::size_t dates = world.days.size();
  Runner runner{};
  runner.top_speed = 4.9 + 0.3 * (age - 8.0) + (male ? 0.15 : 0.0) + 0.28 * random.normal();
  runner.time_constant = std::clamp(1.05 + 0.1 * random.normal(), 0.8, 1.35);
  runner.reaction = std::clamp(0.32 + 0.06 * random.normal(), 0.18, 0.5);
  runner.loss = std::clamp(0.34 + 0.09 * random.normal(), 0.12, 0.6);
  const auto sex = male ? season::Sex::male : season::Sex::female;
  const double rate =
      (world.constant_growth_per_yr > 0.0 ? -world.constant_growth_per_yr : season::growth_rate_per_yr(sex, age)) +
      world.growth_sd_per_yr * random.normal();
  const double change = draw_change(world, random);
  const std::size_t gap = 1 + random.below(dates - 1);
  const auto weights = window_weights(dates);
  double beyond = 0.0, total_s = 0.0, last_s = 0.0;
  const std::size_t child = out.season.children.size();
  out.season.children.push_back({.age_yr = age, .sex = sex});
  for (std::size_t j = 0; j < dates; ++j) {
    const double line = world.days[j] / world.days.back();
    const double shape = world.step ? (j >= gap ? 1.0 : 0.0) : line;
    const bool whole = world.part == World::Part::all;
    const double share =
        rate * world.days[j] / days_per_year + evenings.squad_move * line + (whole ? change * shape : 0.0);
    const auto now = runner.changed(world.part, change * shape);
    const bool through_v = world.three_courses && whole;
    last_s = now.reaction + now.moving_s({1, 0, 1}, share, through_v);
    total_s += weights[j] * last_s;
    beyond += weights[j] * change * shape;
    if (random.uniform() >= world.absent) {
      add_evening(world, evenings, now, child, j, share, random, out.season);
    }
  }
  out.changed.push_back(change != 0.0);
  out.change.push_back(beyond);
  out.total_change_s.push_back(total_s);
  out.last_s.push_back(last_s + watch_bias_s);
}

void add_slips(const World& world, RandomStream& random, DrawnSeason& out) {
  auto& readings = out.season.readings;
  for (int i = 0; i < world.slips; ++i) {
    const std::size_t at = random.below(readings.size());
    readings[at].time_s += (random.uniform() < 0.5 ? -1.0 : 1.0) * between(0.5, 1.2, random);
    out.slipped.push_back(static_cast<int>(at));
  }
  for (std::size_t at = random.below(readings.size()); world.one_slip_s != 0.0 && out.slipped.empty();
       at = (at + 1) % readings.size()) {
    if (!out.changed[static_cast<std::size_t>(readings[at].child)]) {
      readings[at].time_s += world.one_slip_s;
      out.slipped.push_back(static_cast<int>(at));
    }
  }
}

/// Two children that do not change run under each other's number on one evening of both; 0.4 s or more apart at the
/// end, since nobody can tell bibs of like children.
void swap_bibs(RandomStream& random, DrawnSeason& out) {
  int a = -1, b = -1;
  for (std::size_t i = 0; i < out.changed.size() && b < 0; ++i) {
    if (out.changed[i]) {
      continue;
    }
    if (a < 0) {
      a = static_cast<int>(i);
    } else if (std::fabs(out.last_s[i] - out.last_s[static_cast<std::size_t>(a)]) > 0.4) {
      b = static_cast<int>(i);
    }
  }
  auto& readings = out.season.readings;
  const auto has = [&](int child, int date) {
    return std::any_of(readings.begin(), readings.end(),
                       [&](const auto& r) { return r.child == child && r.date == date; });
  };
  int date = 0;
  do {
    date = static_cast<int>(random.below(out.season.days.size()));
  } while (!has(a, date) || !has(b, date));
  for (auto& r : readings) {
    if (r.date == date && (r.child == a || r.child == b)) {
      r.child = a + b - r.child;
    }
  }
  out.swapped = {{a, date}, {b, date}};
}

}  // namespace

DrawnSeason draw_season(const World& world, std::uint64_t seed) {
  RandomStream random(seed);
  DrawnSeason out;
  add_squad(world, out.season);
  const auto evenings = draw_evenings(world, random);
  const auto ages = permutation(world.children, random);
  const auto sexes = permutation(world.children, random);
  for (std::size_t i = 0; i < ages.size(); ++i) {
    const double age = 8.0 + 7.0 * (ages[i] + 0.5) / world.children;
    add_child(world, evenings, age, sexes[i] % 2 == 0, random, out);
  }
  add_slips(world, random, out);
  if (world.swapped_bibs) {
    swap_bibs(random, out);
  }
  return out;
}

}  // namespace bagsplit::test
