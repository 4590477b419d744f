#include "bagsplit/jobs/profile/merge_estimates.hpp"

#include <algorithm>
#include <cmath>
#include <stdexcept>
#include <vector>

#include "bagsplit/stats/distributions.hpp"

namespace bagsplit::jobs {

QuantileCurve::QuantileCurve(const inference::Estimate& e, double level)
    : median_(e.median),
      up_(e.hi - e.median),
      down_(e.median - e.lo),
      z0_(-stats::normal_quantile(0.5 * (1.0 - level))) {
  if (!(up_ > 0.0) || !(down_ > 0.0)) {
    sd_ = std::max({e.sd, up_ / z0_, down_ / z0_});
    return;
  }
  a_ = 0.5 * (up_ + down_) / z0_;
  b_ = 0.5 * (up_ - down_) / (z0_ * z0_);
  shape_ = slope_up() > 0.0 && slope_down() > 0.0 ? Shape::bent : Shape::two_lines;
}

double QuantileCurve::value_at(double z) const {
  switch (shape_) {
    case Shape::line:
      return median_ + sd_ * z;
    case Shape::two_lines:
      return median_ + z / z0_ * (z >= 0.0 ? up_ : down_);
    case Shape::bent:
      break;
  }
  return median_ + (z > z0_    ? up_ + slope_up() * (z - z0_)
                    : z < -z0_ ? -down_ + slope_down() * (z + z0_)
                               : a_ * z + b_ * z * z);
}

double QuantileCurve::z_of(double x) const {
  const double d = x - median_;
  if (shape_ == Shape::line) {
    return sd_ > 0.0 ? d / sd_ : (d > 0.0 ? 40.0 : d < 0.0 ? -40.0 : 0.0);
  }
  if (shape_ == Shape::two_lines) {
    return d >= 0.0 ? d * z0_ / up_ : d * z0_ / down_;
  }
  if (d > up_) {
    return z0_ + (d - up_) / slope_up();
  }
  if (d < -down_) {
    return -z0_ + (d + down_) / slope_down();
  }
  if (std::fabs(b_) < 1e-12 * a_) {
    return d / a_;
  }
  return 2.0 * d / (a_ + std::sqrt(std::max(0.0, a_ * a_ + 4.0 * b_ * d)));
}

inference::Estimate merge_estimates(std::span<const double> weights, std::span<const inference::Estimate> estimates,
                                    double level) {
  if (weights.size() != estimates.size() || weights.empty()) {
    throw std::invalid_argument("merge_estimates: one weight an estimate is needed");
  }
  if (estimates.size() == 1) {
    return estimates.front();
  }
  inference::Estimate out;
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
  std::vector<QuantileCurve> curves;
  for (const inference::Estimate& estimate : estimates) {
    curves.emplace_back(estimate, level);
  }
  const auto quantile = [&](double p) {
    double lo = lowest - widest;
    double hi = highest + widest;
    for (int i = 0; i < 48; ++i) {
      const double x = 0.5 * (lo + hi);
      double cdf = 0.0;
      for (std::size_t k = 0; k < weights.size(); ++k) {
        cdf += weights[k] * stats::normal_cdf(curves[k].z_of(x));
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

void set_median(inference::Estimate& estimate, double median) {
  estimate.median = median;
  estimate.lo = std::min(estimate.lo, median);
  estimate.hi = std::max(estimate.hi, median);
}

inference::Estimate merge_estimates(std::span<const double> weights, std::span<const inference::Estimate> estimates,
                                    double level, std::span<const inference::Estimate> at_median_level) {
  inference::Estimate out = merge_estimates(weights, estimates, level);
  set_median(out, merge_estimates(weights, at_median_level, median_level).median);
  return out;
}

}  // namespace bagsplit::jobs
