#include "bagsplit/coach/merge_estimates.hpp"

#include <algorithm>
#include <cmath>
#include <stdexcept>

#include "bagsplit/stats/distributions.hpp"

namespace bagsplit::coach {

namespace {

// z at which an estimate's rebuilt quantile function reaches x.
double z_of(const sprint::Estimate& e, double x, double z0) {
  const double up = e.hi - e.median;
  const double down = e.median - e.lo;
  const double d = x - e.median;
  if (!(up > 0.0) || !(down > 0.0)) {
    const double sd = std::max({e.sd, up / z0, down / z0});
    return sd > 0.0 ? d / sd : (d > 0.0 ? 40.0 : d < 0.0 ? -40.0 : 0.0);
  }
  const double a = 0.5 * (up + down) / z0;
  const double b = 0.5 * (up - down) / (z0 * z0);
  // Beyond 4 z0 or where the parabola turns, straight on with the slope at the outer quantile.
  const double slope_up = a + 2.0 * b * z0;
  const double slope_down = a - 2.0 * b * z0;
  if (slope_up <= 0.0 || slope_down <= 0.0) {
    return d >= 0.0 ? d * z0 / up : d * z0 / down;
  }
  if (d > up) {
    return z0 + (d - up) / slope_up;
  }
  if (d < -down) {
    return -z0 + (d + down) / slope_down;
  }
  if (std::fabs(b) < 1e-12 * a) {
    return d / a;
  }
  const double root = std::sqrt(std::max(0.0, a * a + 4.0 * b * d));
  return 2.0 * d / (a + root);
}

}  // namespace

sprint::Estimate merge_estimates(std::span<const double> weights, std::span<const sprint::Estimate> estimates,
                                 double level) {
  if (weights.size() != estimates.size() || weights.empty()) {
    throw std::invalid_argument("merge_estimates: one weight an estimate is needed");
  }
  if (estimates.size() == 1) {
    return estimates.front();
  }
  sprint::Estimate out;
  double share = 0.0;
  bool shared = true;
  for (std::size_t k = 0; k < weights.size(); ++k) {
    out.mean += weights[k] * estimates[k].mean;
    shared = shared && estimates[k].share_from_data.has_value();
    share += weights[k] * estimates[k].share_from_data.value_or(0.0);
  }
  double variance = 0.0;
  double lowest = estimates[0].lo;
  double highest = estimates[0].hi;
  double widest = 0.0;
  for (std::size_t k = 0; k < weights.size(); ++k) {
    const double d = estimates[k].mean - out.mean;
    variance += weights[k] * (estimates[k].sd * estimates[k].sd + d * d);
    lowest = std::min(lowest, estimates[k].lo);
    highest = std::max(highest, estimates[k].hi);
    widest = std::max(widest, estimates[k].sd);
  }
  out.sd = std::sqrt(variance);
  if (shared) {
    out.share_from_data = share;
  }
  const double tail = 0.5 * (1.0 - level);
  const double z0 = -stats::normal_quantile(tail);
  const auto quantile = [&](double p) {
    double lo = lowest - widest;
    double hi = highest + widest;
    for (int i = 0; i < 48; ++i) {
      const double x = 0.5 * (lo + hi);
      double cdf = 0.0;
      for (std::size_t k = 0; k < weights.size(); ++k) {
        cdf += weights[k] * stats::normal_cdf(z_of(estimates[k], x, z0));
      }
      (cdf < p ? lo : hi) = x;
    }
    return 0.5 * (lo + hi);
  };
  out.lo = quantile(tail);
  out.median = quantile(0.5);
  out.hi = quantile(1.0 - tail);
  return out;
}

}  // namespace bagsplit::coach
