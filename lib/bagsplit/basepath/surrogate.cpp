#include "bagsplit/basepath/surrogate.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <stdexcept>

#include "bagsplit/basepath/detail/spline_fit.hpp"
#include "bagsplit/basepath/diamond.hpp"
#include "bagsplit/basepath/path.hpp"
#include "bagsplit/basepath/straight.hpp"
#include "bagsplit/stats/detail/check.hpp"

namespace bagsplit::basepath {

namespace {

// Kinds of course, by number of legs and whether they end in a stop; every course of at most four legs is one of them,
// turned or mirrored. One leg run through loses nothing and has no entry.
struct Kind {
  std::size_t legs;
  bool stop;
};
constexpr std::array<Kind, 7> kinds{{{1, true}, {2, true}, {2, false}, {3, true}, {3, false}, {4, true}, {4, false}}};

std::size_t columns() {
  std::size_t n = 0;
  for (const Kind& k : kinds) {
    n += k.legs;
  }
  return n;
}

// Column of the first leg of a kind.
std::optional<std::size_t> first_column(std::size_t legs, bool stop) {
  std::size_t n = 0;
  for (const Kind& k : kinds) {
    if (k.legs == legs && k.stop == stop) {
      return n;
    }
    n += k.legs;
  }
  return std::nullopt;
}

// Adds a share of the loss of a whole kind of course.
void add_course(std::vector<double>& mix, std::size_t legs, bool stop, double share) {
  const std::size_t at = *first_column(legs, stop);
  for (std::size_t k = 0; k < legs; ++k) {
    mix[at + k] += share;
  }
}

double node(double low, double high, std::size_t count, std::size_t k) {
  return low * std::exp(std::log(high / low) * static_cast<double>(k) / static_cast<double>(count - 1));
}

// Cubic B-spline weights at a share t of a cell.
void weights(double t, double (&w)[4]) {
  const double s = 1.0 - t;
  w[0] = s * s * s / 6.0;
  w[1] = 2.0 / 3.0 - 0.5 * t * t * (2.0 - t);
  w[2] = 2.0 / 3.0 - 0.5 * s * s * (2.0 - s);
  w[3] = t * t * t / 6.0;
}

bool take_suffix(std::string_view& text, std::string_view suffix) {
  if (text.size() <= suffix.size() || text.substr(text.size() - suffix.size()) != suffix) {
    return false;
  }
  text.remove_suffix(suffix.size());
  return true;
}

}  // namespace

LossSurface::Cell LossSurface::cell(double log_top_speed, double log_time_constant) const {
  const double x = std::clamp((log_top_speed + x_shift_) * x_scale_, 0.0, static_cast<double>(x_cells_));
  const double y =
      std::clamp((log_top_speed - log_time_constant + y_shift_) * y_scale_, 0.0, static_cast<double>(y_cells_));
  const std::size_t i = std::min(static_cast<std::size_t>(x), x_cells_ - 1);
  const std::size_t j = std::min(static_cast<std::size_t>(y), y_cells_ - 1);
  Cell out{i * (y_cells_ + 3) + j, {}, {}};
  weights(x - static_cast<double>(i), out.along_x);
  weights(y - static_cast<double>(j), out.along_y);
  return out;
}

double LossSurface::at(const Cell& cell) const {
  const double* c = coefficients_.data() + cell.first;
  const double* const wy = cell.along_y;
  double sum = 0.0;
  for (int a = 0; a < 4; ++a, c += y_cells_ + 3) {
    sum += cell.along_x[a] * (wy[0] * c[0] + wy[1] * c[1] + wy[2] * c[2] + wy[3] * c[3]);
  }
  return sum;
}

double LossSurface::operator()(double log_top_speed, double log_time_constant) const {
  return at(cell(log_top_speed, log_time_constant));
}

bool LossSurface::inside(double log_top_speed, double log_time_constant) const {
  const double x = (log_top_speed + x_shift_) * x_scale_;
  const double y = (log_top_speed - log_time_constant + y_shift_) * y_scale_;
  return x >= 0.0 && x <= static_cast<double>(x_cells_) && y >= 0.0 && y <= static_cast<double>(y_cells_);
}

LossTable LossTable::build(const Options& options) {
  stats::check::positive("LossTable", "lowest_speed", options.lowest_speed);
  stats::check::positive("LossTable", "lowest_push", options.lowest_push);
  if (!(options.braking_over_lateral >= 0.1 && options.braking_over_lateral <= 10.0) ||
      !(options.highest_speed > options.lowest_speed) || !(options.highest_push > options.lowest_push) ||
      options.speed_nodes < 5 || options.push_nodes < 5) {
    throw std::domain_error(
        "LossTable::build: braking_over_lateral must be from 0.1 to 10, each highest above its lowest, and nodes at "
        "least 5");
  }
  LossTable table;
  table.options_ = options;
  table.losses_.assign(columns(), std::vector<double>(table.nodes()));
  // Any base distance and lateral limit will do; these keep speeds and times within the ranges that are checked.
  constexpr double base = 9.0;
  constexpr double lateral = 4.0;
  constexpr double unit_s = 1.5;    // sqrt(base / lateral)
  constexpr double unit_mps = 6.0;  // sqrt(base lateral)
  const Diamond diamond{base};
  const std::vector<runs::Bag> round{runs::Bag::home, runs::Bag::first, runs::Bag::second, runs::Bag::third,
                                     runs::Bag::home};
  std::size_t certified = 0;
  for (std::size_t i = 0; i < options.speed_nodes; ++i) {
    for (std::size_t j = 0; j < options.push_nodes; ++j) {
      const double speed = unit_mps * node(options.lowest_speed, options.highest_speed, options.speed_nodes, i);
      const double push = lateral * node(options.lowest_push, options.highest_push, options.push_nodes, j);
      const Limits limits = RunnerLimits{speed, speed / push, lateral, options.braking_over_lateral * lateral};
      bool all = true;
      std::size_t column = 0;
      for (const Kind& kind : kinds) {
        PathProblem problem;
        problem.points = touch_points(
            diamond, {round.begin(), round.begin() + static_cast<std::ptrdiff_t>(kind.legs) + 1}, runs::Touch::point);
        problem.limits = limits;
        problem.stop = kind.stop;
        PathOptions solve;
        solve.samples = 0;
        solve.aim = 5e-4;
        const PathResult path = best_path(problem, solve);
        if (path.status == PathStatus::failed) {
          throw std::runtime_error("LossTable::build: no path was found at a node");
        }
        all = all && path.usable();
        table.largest_cost_share_ = std::max(table.largest_cost_share_, path.certificate.cost_s() / path.total_s);
        double before = 0.0;
        for (std::size_t k = 0; k < kind.legs; ++k) {
          const double straight = straight_time_s(limits, base * static_cast<double>(k + 1));
          table.losses_[column++][i * options.push_nodes + j] = (path.leg_s[k] - (straight - before)) / unit_s;
          before = straight;
        }
      }
      certified += all ? 1 : 0;
    }
  }
  table.certified_share_ = static_cast<double>(certified) / static_cast<double>(table.nodes());
  table.fit();
  return table;
}

void LossTable::fit() {
  coefficients_.clear();
  for (const auto& values : losses_) {
    coefficients_.push_back(spline_fit::tensor(values, options_.speed_nodes, options_.push_nodes));
  }
}

LossSurface LossTable::surface(const std::vector<double>& mix, double base_distance_m, double lateral_mps2) const {
  stats::check::positive("LossTable", "base_distance_m", base_distance_m);
  stats::check::positive("LossTable", "lateral_mps2", lateral_mps2);
  LossSurface s;
  s.x_cells_ = options_.speed_nodes - 1;
  s.y_cells_ = options_.push_nodes - 1;
  s.x_scale_ = static_cast<double>(s.x_cells_) / std::log(options_.highest_speed / options_.lowest_speed);
  s.y_scale_ = static_cast<double>(s.y_cells_) / std::log(options_.highest_push / options_.lowest_push);
  s.x_shift_ = -std::log(options_.lowest_speed * std::sqrt(base_distance_m * lateral_mps2));
  s.y_shift_ = -std::log(options_.lowest_push * lateral_mps2);
  const double unit_s = std::sqrt(base_distance_m / lateral_mps2);
  s.coefficients_.assign((s.x_cells_ + 3) * (s.y_cells_ + 3), 0.0);
  for (std::size_t c = 0; c < mix.size(); ++c) {
    if (mix[c] != 0.0) {
      for (std::size_t k = 0; k < s.coefficients_.size(); ++k) {
        s.coefficients_[k] += mix[c] * unit_s * coefficients_[c][k];
      }
    }
  }
  return s;
}

namespace {

// The distance between bags that stands for the base distance.
double mean_leg_m(const runs::Course& course, double base_distance_m) {
  return runs::course_length_m(course, base_distance_m).value_or(base_distance_m) /
         static_cast<double>(course.bags.size() - 1);
}

}  // namespace

std::optional<LossSurface> LossTable::course_loss(const runs::Course& course, double base_distance_m,
                                                  double lateral_mps2) const {
  if (!course.is_base_path() || course.bags.size() > 5) {
    return std::nullopt;
  }
  std::vector<double> mix(losses_.size(), 0.0);
  const bool stop = course.finish == runs::Finish::stop;
  const std::size_t legs = course.bags.size() - 1;
  if (first_column(legs, stop)) {
    add_course(mix, legs, stop, 1.0);
  }
  return surface(mix, mean_leg_m(course, base_distance_m), lateral_mps2);
}

std::optional<LossSurface> LossTable::leg_loss(const runs::Course& course, std::size_t segment, double base_distance_m,
                                               double lateral_mps2) const {
  if (!course.is_base_path() || course.bags.size() > 5 || segment + 1 >= course.bags.size()) {
    return std::nullopt;
  }
  std::vector<double> mix(losses_.size(), 0.0);
  if (const auto column = first_column(course.bags.size() - 1, course.finish == runs::Finish::stop)) {
    mix[*column + segment] = 1.0;
  }
  return surface(mix, mean_leg_m(course, base_distance_m), lateral_mps2);
}

std::optional<LossSurface> LossTable::segment_loss(std::string_view key, double base_distance_m,
                                                   double lateral_mps2) const {
  const bool reverse = take_suffix(key, "-reverse");
  const bool from_rest = take_suffix(key, "-from-rest");
  const bool stop = take_suffix(key, "-stop");
  const std::optional<runs::Bag> bag = runs::bag_of_name(key);
  if (!bag) {
    return std::nullopt;
  }
  // Legs from home to the bag, in the direction of running: 1 for first, or for third in reverse; 4 for home.
  std::size_t reached = static_cast<std::size_t>(*bag);
  reached = reached == 0 ? 4 : reverse ? 4 - reached : reached;
  std::vector<double> mix(losses_.size(), 0.0);
  const std::size_t circuit = *first_column(4, false);
  if (from_rest && stop) {
    add_course(mix, 1, true, 1.0);
  } else if (from_rest) {
    // The course runs on to home: 5 - reached legs, of which all but the first are the circuit's. A first leg that
    // reaches home or starts there is the circuit's own.
    if (reached == 1 || reached == 4) {
      mix[circuit] = 1.0;
    } else {
      add_course(mix, 5 - reached, false, 1.0);
      for (std::size_t k = reached; k < 4; ++k) {
        mix[circuit + k] -= 1.0;
      }
    }
  } else if (stop) {
    add_course(mix, reached, true, 1.0);
    for (std::size_t k = 0; k + 1 < reached; ++k) {
      mix[circuit + k] -= 1.0;
    }
  } else {
    mix[circuit + reached - 1] = 1.0;
  }
  return surface(mix, base_distance_m, lateral_mps2);
}

}  // namespace bagsplit::basepath
