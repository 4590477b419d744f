#include "bagsplit/inference/posterior/gaussian_mixture.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <numbers>
#include <stdexcept>
#include <vector>

#include "bagsplit/inference/posterior/detail/normal_table.hpp"
#include "bagsplit/inference/posterior/detail/quantiles.hpp"

namespace bagsplit::inference {

Estimate summarise_mixture(std::span<const double> weights, std::span<const double> means, std::span<const double> sds,
                           double level) {
  if (weights.size() != means.size() || weights.size() != sds.size() || weights.empty()) {
    throw std::invalid_argument("summarise_mixture: weights, means and sds must have the same size, at least 1");
  }
  const Levels levels = levels_of(level);
  Estimate estimate;
  for (std::size_t i = 0; i < weights.size(); ++i) {
    estimate.mean += weights[i] * means[i];
  }
  CentralMoments moments;
  for (std::size_t i = 0; i < weights.size(); ++i) {
    const double d = means[i] - estimate.mean;
    const double d2 = d * d;
    const double s2 = sds[i] * sds[i];
    moments.m2 += weights[i] * (d2 + s2);
    moments.m3 += weights[i] * d * (d2 + 3.0 * s2);
    moments.m4 += weights[i] * (d2 * d2 + 6.0 * d2 * s2 + 3.0 * s2 * s2);
  }
  const double sd = moments.sd();
  estimate.sd = sd;
  if (!(sd > 0.0)) {
    estimate.lo = estimate.median = estimate.hi = estimate.mean;
    return estimate;
  }
  // Components too light to move a quantile by 1e-6 of an SD are left out of the CDF, not of the moments.
  struct Component {
    double weight, mean, inverse_sd;
  };
  std::vector<Component> kept;
  kept.reserve(weights.size());
  double kept_weight = 0.0;
  for (std::size_t i = 0; i < weights.size(); ++i) {
    if (weights[i] > 1e-8) {
      kept_weight += weights[i];
      const double inverse = sds[i] > 0.0 ? 1.0 / sds[i] : std::numeric_limits<double>::infinity();
      kept.push_back({weights[i], means[i], std::min(inverse, 1e9 / sd)});
    }
  }
  const NormalTable& table = NormalTable::get();
  const auto evaluate = [&](double x, double& cdf, double& density) {
    for (const Component& component : kept) {
      double slope = 0.0;
      table.add((x - component.mean) * component.inverse_sd, component.weight, cdf, slope);
      density += slope * component.inverse_sd;
    }
    cdf /= kept_weight;
    density /= kept_weight;
  };
  set_quantiles(
      estimate, levels, evaluate, [&](double z) { return estimate.mean + sd * moments.quantile_near(z); },
      estimate.mean - 40.0 * sd, estimate.mean + 40.0 * sd, sd);
  return estimate;
}

double mixture_below(std::span<const double> weights, std::span<const double> means, std::span<const double> sds,
                     double x) {
  double cdf = 0.0;
  double density = 0.0;
  for (std::size_t i = 0; i < weights.size(); ++i) {
    const double d = x - means[i];
    const double z = sds[i] > 0.0 ? d / sds[i] : (d > 0.0 ? 40.0 : -40.0);
    NormalTable::get().add(z, weights[i], cdf, density);
  }
  return std::clamp(cdf, 0.0, 1.0);
}

Estimate summarise_efficiency(std::span<const double> weights, std::span<const double> times_s,
                              std::span<const double> loss_means_s, std::span<const double> loss_sds_s, double level) {
  const std::size_t n = weights.size();
  if (times_s.size() != n || loss_means_s.size() != n || loss_sds_s.size() != n || n == 0) {
    throw std::invalid_argument("summarise_efficiency: all spans must have the same size, at least 1");
  }
  const Levels levels = levels_of(level);
  // Gauss-Hermite, 7 points, for a standard normal. Source: Abramowitz & Stegun (1964), table 25.10, n = 7.
  static constexpr std::array<double, 4> root = {0.0, 0.816287882858965, 1.673551628767471, 2.651961356835233};
  static constexpr std::array<double, 4> share = {0.8102646175568073, 0.4256072526101278, 0.0545155828191270,
                                                  0.000971781245099519};
  const double norm = std::sqrt(std::numbers::pi);
  Estimate estimate;
  double m1 = 0.0;
  double m2 = 0.0;
  for (std::size_t i = 0; i < n; ++i) {
    const auto add = [&](double z, double weight) {
      const double value = times_s[i] / (times_s[i] + loss_means_s[i] + loss_sds_s[i] * z);
      m1 += weights[i] * weight * value;
      m2 += weights[i] * weight * value * value;
    };
    add(0.0, share[0] / norm);
    for (std::size_t k = 1; k < root.size(); ++k) {
      add(std::numbers::sqrt2 * root[k], share[k] / norm);
      add(-std::numbers::sqrt2 * root[k], share[k] / norm);
    }
  }
  estimate.mean = m1;
  estimate.sd = std::sqrt(std::max(0.0, m2 - m1 * m1));
  const NormalTable& table = NormalTable::get();
  const auto evaluate = [&](double c, double& cdf, double& density) {
    for (std::size_t i = 0; i < n; ++i) {
      const double slope = -1.0 / std::max(loss_sds_s[i], 1e-9);
      double part = 0.0;
      table.add((times_s[i] * (1.0 / c - 1.0) - loss_means_s[i]) * slope, weights[i], cdf, part);
      density += part * times_s[i] / (c * c) * -slope;
    }
  };
  set_quantiles(
      estimate, levels, evaluate, [&](double z) { return std::clamp(estimate.mean + z * estimate.sd, 0.05, 5.0); },
      0.01, 20.0, std::max(estimate.sd, 1e-9));
  return estimate;
}

}  // namespace bagsplit::inference
