#include "bagsplit/stats/quantile.hpp"

#include <algorithm>
#include <cmath>
#include <vector>

#include "bagsplit/stats/detail/check.hpp"

namespace bagsplit::stats {

namespace {

void check_p(double p) {
  if (!(p >= 0.0 && p <= 1.0)) {
    check::fail("quantile", "p", p, "between 0 and 1");
  }
}

double pick(std::span<const double> sorted, double p, QuantileType type) {
  const double n = static_cast<double>(sorted.size());
  if (type == QuantileType::inverse_cdf) {
    // The fuzz keeps 0.1 * 30 from being taken for a little more than 3.
    const double rank = std::clamp(std::ceil(n * p - 4e-16 * n), 1.0, n);
    return sorted[static_cast<std::size_t>(rank) - 1];
  }
  const double h = std::clamp(type == QuantileType::weibull ? (n + 1.0) * p : (n - 1.0) * p + 1.0, 1.0, n);
  const double whole = std::floor(h);
  const std::size_t i = static_cast<std::size_t>(whole) - 1;
  const double fraction = h - whole;
  return fraction > 0.0 ? sorted[i] + fraction * (sorted[i + 1] - sorted[i]) : sorted[i];
}

}  // namespace

std::optional<double> quantile_sorted(std::span<const double> sorted, double p, QuantileType type) {
  check_p(p);
  check::all_finite("quantile_sorted", "sorted", sorted);
  if (!std::is_sorted(sorted.begin(), sorted.end())) {
    check::fail_call("quantile_sorted", "the values are not in ascending order");
  }
  return sorted.empty() ? std::nullopt : std::optional(pick(sorted, p, type));
}

std::optional<double> quantile(std::span<const double> values, double p, QuantileType type) {
  check_p(p);
  check::all_finite("quantile", "values", values);
  if (values.empty()) {
    return std::nullopt;
  }
  std::vector<double> sorted(values.begin(), values.end());
  std::sort(sorted.begin(), sorted.end());
  return pick(sorted, p, type);
}

std::optional<double> median(std::span<const double> values) {
  check::all_finite("median", "values", values);
  if (values.empty()) {
    return std::nullopt;
  }
  std::vector<double> copy(values.begin(), values.end());
  const auto middle = copy.begin() + static_cast<std::ptrdiff_t>(copy.size() / 2);
  std::nth_element(copy.begin(), middle, copy.end());
  if (copy.size() % 2 == 1) {
    return *middle;
  }
  const double below = *std::max_element(copy.begin(), middle);
  return below + 0.5 * (*middle - below);
}

}  // namespace bagsplit::stats
