// The season as a linear model, child by child; not installed. README.md has the equation and the symbols.
#pragma once

#include <Eigen/Core>
#include <array>
#include <utility>
#include <vector>

#include "bagsplit/inference/season/options.hpp"
#include "bagsplit/inference/season/season.hpp"

namespace bagsplit::season {

using Index = Eigen::Index;

/// What a change may be of: all of the sprint, top speed, first acceleration.
enum class Part { overall, top_speed, first_acceleration };
inline constexpr std::size_t parts = 3;

/// Places of what the squad shares in the vector g.
struct SharedPlaces {
  Index evenings = 0, timers = 0, devices = 0, grounds = 0, wind = 0, rate = 0;
  Index count() const { return rate + 1; }
};

/// A form that a change takes over time: a line through the season, or a step at the `gap` before date `gap`.
struct Shape {
  int gap = 0;  ///< 0: the line
  Part part = Part::overall;
  double weight = 0.0;
};

/// One reading as a share of moving time, all that is known taken off.
struct Row {
  int reading, date, level, run;
  double z;                                           ///< share of moving time
  double moving_s;                                    ///< M
  std::array<double, parts> response;                 ///< h: of the level, relative to the reference, by Part
  double time_yr;                                     ///< h t
  std::vector<std::pair<Index, double>> shared = {};  ///< place in g, coefficient
  double start_sd, reaction_sd, mark_var;
  int press;
  double slip = 0.0;               ///< P(slip)
  double off = 0.0, off_sd = 0.0;  ///< by which it differs from what all others say, share; SD of what they say
  double added = 0.0;              ///< variance that it adds
};

struct ChildRows {
  std::vector<Row> rows = {};
  std::vector<Index> touched = {};    ///< places of g that its rows touch, ascending
  std::vector<double> median_s = {};  ///< by level; 0 where it has no reading
  std::vector<double> moving_s = {};  ///< by level
  double growth_sd_per_yr = 0.0;
  std::vector<double> evening_slip = {};   ///< by date: P(all its times of that evening are off)
  std::vector<double> evening_added = {};  ///< variance that it adds to form
};

struct Design {
  const Season& season;
  const Options& options;
  int reference = 0;
  std::vector<double> years = {};  ///< t of each date, from their mean
  double span_days = 1.0;
  SharedPlaces places = {};
  Eigen::VectorXd shared_var = {};  ///< prior variances of g; those of evenings wait for evening_sd
  std::vector<Shape> shapes = {};
  std::vector<ChildRows> children = {};

  double years_at(double day) const;
  double shape_at(const Shape& shape, double day) const;  ///< 0 at first, 1 at the end
  double growth_at(std::size_t child, double day) const;  ///< known growth from the middle of the dates, share
  std::array<double, parts> response(int level) const;    ///< relative to the reference
  Eigen::VectorXd prior_precision(double evening_sd) const;
};

/// @throws std::invalid_argument, std::domain_error naming the first value that cannot be; both are kept by reference.
Design make_design(const Season& season, const Options& options);

}  // namespace bagsplit::season
