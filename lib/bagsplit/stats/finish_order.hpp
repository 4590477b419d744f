#pragma once

#include <Eigen/Core>
#include <cstddef>
#include <cstdint>
#include <functional>
#include <optional>
#include <span>
#include <vector>

#include "bagsplit/stats/linear_gaussian.hpp"

/// Orders of arrival as evidence: what "a came in before b" tells of jointly normal quantities, with or without a clock
/// on some arrivals.
namespace bagsplit::stats {

/// One thing seen at the line.
struct Arrival {
  enum class Kind : std::uint8_t {
    before,   ///< `run` came in more than `gap` before `other`
    level,    ///< the two within `gap` of each other
    reading,  ///< a clock on `run` reads `value`
  };
  Kind kind = Kind::before;
  std::size_t run = 0, other = 0;
  double gap = 0.0;                 ///< >= 0
  double value = 0.0, sd = 1.0;     ///< of a reading
  std::optional<std::size_t> bias;  ///< of a reading: the quantity its clock adds
};

/// Quantities z ~ N(mean, covariance). Run r takes z[quantity of r] + N(0, run_sd^2); the eye adds N(0, eye_sd^2) to
/// each arrival it judges, a clock its own error instead.
struct Arrivals {
  Eigen::VectorXd mean;
  Eigen::MatrixXd covariance;
  std::vector<std::size_t> quantity;  ///< one a run
  std::vector<double> run_sd;         ///< one a run, > 0
  double eye_sd = 0.0;
  std::vector<Arrival> seen;

  /// Adds a run of a quantity.  @return its number.
  std::size_t add_run(std::size_t of, double sd);
  /// One heat, groups of runs from first to last: a group of several is a tie. `behind` came in after all of them, in
  /// an order nobody wrote down. Neighbours are enough: each arrival is a quantity of its own.
  void add_order(std::span<const std::vector<std::size_t>> groups, std::span<const std::size_t> behind, double tie_gap);
};

struct OrderFit {
  JointNormal z;              ///< of the quantities, given all that was seen
  double log_evidence = 0.0;  ///< up to a constant of the readings
  bool settled = false;       ///< the last sweep moved no factor by more than 1e-3 of its SD
  int sweeps = 0;
};

/// Expectation propagation in the space of gaps: every order is a half line, every tie a band, all log-concave, so the
/// posterior has one mode and each factor a positive precision. No factor is void with some probability: a void one
/// would part the heat into two unrelated halves (six heats of seven, 5 % of neighbours exchanged: rank correlation
/// 0.888 without, 0.859 with 0.05).
/// Accuracy against sampling, up to 10 heats of 7: mean within 0.02 SD, SD within 3 %, with ties 5 %.
/// Cost: (number of things seen)^3 a sweep, 10 to 60 sweeps.
/// Source: Minka (2001), Expectation propagation for approximate Bayesian inference, UAI 17:362-369.
/// @throws std::invalid_argument for sizes or numbers that do not fit.
OrderFit fit_order(const Arrivals& arrivals);

/// Fits at several spreads of the quantities, weighted by their evidence and a log-normal prior.
struct OrderSpreadFit {
  NormalMixture z;       ///< one part a spread
  bool settled = false;  ///< all of them
};

/// Orders hold no seconds: the chance that one quantity is below another hangs on their spread over the scatter of a
/// run. So the spread is learnt: a factor f on their SDs about their means, log f ~ N(0, 0.6^2), five points. With a
/// prior twice too wide the slope of logistic calibration is 0.78, 0.94, 0.98 after one, two, four rounds in place of
/// 0.68, 0.76, 0.85 with f fixed at 1.
/// @param batches        of the same quantities, one after the other: all in one, or where that would be very much one
///                       date each. Mean and covariance of the first count.
/// @param covariance_at  covariance of the quantities at a factor.
OrderSpreadFit fit_order_spread(std::span<const Arrivals> batches,
                                const std::function<Eigen::MatrixXd(double factor)>& covariance_at);

}  // namespace bagsplit::stats
