#pragma once

#include <cstddef>
#include <cstdint>
#include <functional>
#include <optional>
#include <span>
#include <vector>

#include "bagsplit/stats/interval.hpp"

/// The bootstrap of any statistic of n independent observations, and the jackknife.
///
/// Assumes: observations independent and alike (resample whole players, not their runs, when runs belong together).
/// Small samples: below n = 8 or so bootstrap intervals are too short whatever their kind (the sample holds too few
/// values to show a tail); prefer a t interval or a model. For n up to `exhaustive_up_to` every resample is enumerated
/// with its weight, so that there is no Monte-Carlo error at all. Source: Efron & Tibshirani (1993), An Introduction to
/// the Bootstrap, Chapman & Hall; Efron (1987), J Am Stat Assoc 82:171-185, for BCa; Fisher & Hall (1991), J Stat Plan
/// Inference 27:157-169, for the enumeration.
namespace bagsplit::stats {

/// A statistic of the observations with the given indices (with repetition). NaN where it is not defined.
/// Called from several threads at once if `threads` is not 1.
using IndexStatistic = std::function<double(std::span<const std::size_t> rows)>;

struct Jackknife {
  double estimate;
  std::vector<double> leave_one_out;   ///< n values, in order
  double se;                           ///< sqrt((n-1)/n sum (t_i - mean)^2)
  double bias;                         ///< (n - 1)(mean - estimate)
  std::optional<double> acceleration;  ///< skewness of the influence / 6; none when all t_i are equal
};

/// n < 2, or the statistic undefined for some leave-one-out sample: none.
std::optional<Jackknife> jackknife(std::size_t n, const IndexStatistic& statistic);

struct BootstrapOptions {
  std::size_t resamples = 9'999;
  std::size_t exhaustive_up_to =
      8;  ///< largest n to enumerate: 6435 distinct resamples at 8, 24310 at 9, 92378 at 10 (at most 12)
  std::uint64_t seed = 1;
  unsigned threads = 1;  ///< 0: all; the result does not depend on it
};

struct Bootstrap {
  double estimate;
  bool exhaustive;
  std::vector<double> values;   ///< replicates, ascending
  std::vector<double> weights;  ///< their probabilities; empty when all are alike
  double se;
  double bias;            ///< mean of the replicates - estimate
  double share_below;     ///< P(t* < t)
  double share_equal;     ///< P(t* = t), within 1e-10 of the range
  std::size_t undefined;  ///< replicates for which the statistic was NaN; left out
  std::uint64_t seed;
};

/// n < 1, the statistic undefined for the sample itself, or for more than half of the resamples: none.
std::optional<Bootstrap> bootstrap(std::size_t n, const IndexStatistic& statistic,
                                   const BootstrapOptions& options = {});

/// Percentile interval: quantiles (1 -/+ level)/2 of the replicates; random replicates by type 6, enumerated ones as
/// the smallest value whose cumulative probability reaches the level.
Interval percentile_interval(const Bootstrap& distribution, double level = 0.95);

/// How the bias correction z0 counts replicates equal to the estimate.
enum class BiasCorrection {
  half_of_ties,  ///< P(t* < t) + P(t* = t)/2; right for discrete statistics such as medians
  strict,        ///< P(t* < t), as Efron (1987) has it
};

struct BcaInterval {
  Interval interval;
  double level_lo;  ///< which percentiles they are
  double level_hi;
  double z0;
  double acceleration;
};

/// Bias-corrected and accelerated interval. None when the estimate lies outside the replicates (z0 infinite), when the
/// acceleration is not known, or when the correction turns the levels round (1 - a (z0 + z) <= 0).
std::optional<BcaInterval> bca_interval(const Bootstrap& distribution, std::optional<double> acceleration,
                                        double level = 0.95, BiasCorrection correction = BiasCorrection::half_of_ties);

}  // namespace bagsplit::stats
