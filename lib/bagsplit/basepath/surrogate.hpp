#pragma once

#include <cstddef>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "bagsplit/basepath/limits.hpp"
#include "bagsplit/runs/courses/course.hpp"

/// What the best path loses against a straight sprint of the same length, as a smooth table over (V, tau): fast enough
/// for a player's posterior.
///
/// With lengths in base distances D and times in sqrt(D/L), a course has three free numbers: V/sqrt(D L), tau sqrt(L/D)
/// and B/L. For one B/L a single table in two variables serves every base distance and every lateral limit. Its
/// coordinates are
///   x = log(V/sqrt(D L)),   y = log(V/(tau L))   (top speed; first push against lateral limit),
/// its values losses divided by sqrt(D/L), interpolated by a tensor of cubic B-splines. Nodes are dense in x: where
/// V^2/L, the radius of the tightest turn at top speed, passes the radius of the circle through the bags (V/sqrt(D L) =
/// 0.84), the straight parts of the path vanish and losses bend sharply.
namespace bagsplit::basepath {

/// A loss [s] as a function of the sprint, for one base distance and one lateral limit.
class LossSurface {
 public:
  /// @param log_top_speed  natural logarithm of V [m/s].  @param log_time_constant  of tau [s].
  /// Outside the table the nearest edge is used (see inside()).  Cost: about 20 ns.
  double operator()(double log_top_speed, double log_time_constant) const;

  /// Where (V, tau) lies: the same for all surfaces of one table, base distance and lateral limit, and most of the
  /// cost.
  struct Cell {
    std::size_t first = 0;  // coefficient
    double along_x[4], along_y[4];
  };
  Cell cell(double log_top_speed, double log_time_constant) const;
  double at(const Cell& cell) const;

  /// Is (V, tau) within the table?
  bool inside(double log_top_speed, double log_time_constant) const;

 private:
  friend class LossTable;
  double x_shift_ = 0.0, x_scale_ = 1.0, y_shift_ = 0.0, y_scale_ = 1.0;  // to grid units
  std::size_t x_cells_ = 1, y_cells_ = 1;
  std::vector<double> coefficients_;  // (x cells + 3) x (y cells + 3), seconds
};

class LossTable {
 public:
  struct Options {
    double braking_over_lateral = 0.75;              ///< B/L, 0.1 to 10
    double lowest_speed = 0.2, highest_speed = 1.7;  ///< of V/sqrt(D L)
    double lowest_push = 0.3, highest_push = 5.0;    ///< of V/(tau L)
    std::size_t speed_nodes = 40, push_nodes = 13;   ///< at least 5
  };

  /// Solves for every node. Cost: about 30 ms a node, so 15 s for the defaults: keep the result, or use built_in().
  /// @throws std::domain_error on bad options.
  static LossTable build(const Options& options);

  /// The table for B/L = 0.75, the ratio of the default limits, from data/courses/best-path-losses.json (made by
  /// build()). Cost: about 5 ms; keep the result.
  /// @throws std::runtime_error when the embedded file is not as its schema says (a fault of the build).
  static LossTable built_in();

  const Options& options() const { return options_; }
  /// Share of nodes whose paths were all certified, and the largest certificate cost of any, as a share of its total.
  double certified_share() const { return certified_share_; }
  double largest_cost_share() const { return largest_cost_share_; }

  /// Loss of the whole course on its best path: best time minus the straight sprint over bases x base distance; nothing
  /// for a course that is not on the bases or has more than four legs. Under Touch::edge the mean distance between
  /// touched edges takes the place of the base distance.
  std::optional<LossSurface> course_loss(const runs::Course& course, double base_distance_m, double lateral_mps2) const;

  /// Loss of one segment of that course on that path: time from bag to bag minus the straight sprint's. Sums to
  /// course_loss().
  std::optional<LossSurface> leg_loss(const runs::Course& course, std::size_t segment, double base_distance_m,
                                      double lateral_mps2) const;

  /// Loss by segment key (runs/courses/course.hpp), one number for all courses a key appears in. first, second, third
  /// and home are the legs of the best circuit. A suffix takes up the rest, so that the keys of home-second,
  /// home-third, second-home and first-home sum to the best loss of those courses: second-stop = loss(home-second) -
  /// first, third-stop = loss(home-third)
  /// - first - second, third-from-rest = loss(second-home) - home, second-from-rest = loss(first-home) - third - home;
  /// -stop-from-rest is a base run from rest to rest. -reverse is the mirror image. For first-third (second-from-rest +
  /// third-stop) and home-first-reverse (first-reverse, though run through) the sum is off by what README.md states.
  /// home-from-rest (of courses that run on past home) and first-from-rest are the circuit's first leg.
  /// @return nothing for an unknown key.
  std::optional<LossSurface> segment_loss(std::string_view key, double base_distance_m, double lateral_mps2) const;

  /// The table as the JSON text built_in() reads. Losses with 5 decimals, so to about 0.02 ms.
  std::string to_json() const;
  /// @throws std::runtime_error naming what is wrong.
  static LossTable from_json(std::string_view text);

 private:
  LossTable() = default;
  std::size_t nodes() const { return options_.speed_nodes * options_.push_nodes; }
  void fit();
  LossSurface surface(const std::vector<double>& mix, double base_distance_m, double lateral_mps2) const;

  Options options_;
  double certified_share_ = 1.0, largest_cost_share_ = 0.0;
  std::vector<std::vector<double>> losses_;        // each leg of each course kind: speed nodes x push nodes
  std::vector<std::vector<double>> coefficients_;  // likewise, of the B-splines
};

}  // namespace bagsplit::basepath
