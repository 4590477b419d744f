#pragma once

#include <array>
#include <cmath>
#include <cstddef>

#include "bagsplit/inference/posterior/estimate.hpp"

/// The three quantiles of an estimate from a distribution function and its density; stays inside the module.
namespace bagsplit::inference {

struct Levels {
  std::array<double, 3> p;  ///< lower end, median, upper end
  std::array<double, 3> z;  ///< the normal scores of these
};

/// @param level  of the interval, strictly between 0 and 1.   @throws std::domain_error
Levels levels_of(double level);

/// Central moments of a quantity.
struct CentralMoments {
  double m2 = 0.0, m3 = 0.0, m4 = 0.0;

  double sd() const { return std::sqrt(m2); }
  /// Cornish & Fisher (1938) to the fourth cumulant, in SDs from the mean: only a start for Newton's method.
  double quantile_near(double z) const;
};

/// Root of cdf(x) = p, started at x, by Newton's method inside a bracket that grows where it must.
/// `evaluate(x, cdf, density)`. Stops within 1e-6 of `scale`.
template <typename Evaluate>
double solve_quantile(Evaluate&& evaluate, double p, double x, double lo, double hi, double scale) {
  for (int i = 0; i < 60; ++i) {
    double cdf = 0.0;
    double density = 0.0;
    evaluate(x, cdf, density);
    (cdf < p ? lo : hi) = x;
    double next = density > 0.0 ? x - (cdf - p) / density : 0.5 * (lo + hi);
    if (!(next > lo && next < hi)) {
      next = 0.5 * (lo + hi);
    }
    const double moved = std::fabs(next - x);
    x = next;
    if (moved < 1e-6 * scale) {  // Newton's error is then far below
      break;
    }
  }
  return x;
}

/// Lower end, median and upper end of an estimate.  @param start  from a normal score to where to begin.
template <typename Evaluate, typename Start>
void set_quantiles(Estimate& estimate, const Levels& levels, Evaluate&& evaluate, Start&& start, double lo, double hi,
                   double scale) {
  std::array<double, 3> quantile{};
  for (std::size_t k = 0; k < 3; ++k) {
    quantile[k] = solve_quantile(evaluate, levels.p[k], start(levels.z[k]), lo, hi, scale);
  }
  estimate.lo = quantile[0];
  estimate.median = quantile[1];
  estimate.hi = quantile[2];
}

}  // namespace bagsplit::inference
