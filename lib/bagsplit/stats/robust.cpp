#include "bagsplit/stats/robust.hpp"

#include <algorithm>
#include <cmath>

#include "bagsplit/stats/check.hpp"
#include "bagsplit/stats/distributions.hpp"
#include "bagsplit/stats/quantile.hpp"

namespace bagsplit::stats {

namespace {

/// Ties of a list: how many pairs are tied, and Sen's sum k (k-1)(2k+5) over groups of k.
struct Ties {
  double pairs = 0.0;
  double sen = 0.0;
  double triples = 0.0;
};

Ties ties_of(std::span<const double> values) {
  std::vector<double> sorted(values.begin(), values.end());
  std::sort(sorted.begin(), sorted.end());
  Ties out;
  for (std::size_t i = 0; i < sorted.size();) {
    std::size_t j = i;
    while (j < sorted.size() && sorted[j] == sorted[i]) {
      ++j;
    }
    const double k = static_cast<double>(j - i);
    out.pairs += k * (k - 1.0) / 2.0;
    out.sen += k * (k - 1.0) * (2.0 * k + 5.0);
    out.triples += k * (k - 1.0) * (k - 2.0);
    i = j;
  }
  return out;
}

}  // namespace

std::optional<TheilSen> theil_sen(std::span<const double> x, std::span<const double> y, double level) {
  check::open_unit("theil_sen", "level", level);
  check::same_size("theil_sen", "x", x.size(), "y", y.size());
  check::all_finite("theil_sen", "x", x);
  check::all_finite("theil_sen", "y", y);
  std::vector<double> slopes;
  double concordance = 0.0;
  for (std::size_t i = 0; i < x.size(); ++i) {
    for (std::size_t j = i + 1; j < x.size(); ++j) {
      if (x[i] != x[j]) {
        const double slope = (y[j] - y[i]) / (x[j] - x[i]);
        slopes.push_back(slope);
        concordance += (slope > 0.0) - (slope < 0.0);
      }
    }
  }
  if (slopes.empty()) {
    return std::nullopt;
  }
  std::sort(slopes.begin(), slopes.end());
  TheilSen out{};
  out.pairs = slopes.size();
  out.slope = *median(slopes);
  out.intercept = *median(y) - out.slope * *median(x);
  std::vector<double> rest(y.begin(), y.end());
  for (std::size_t i = 0; i < rest.size(); ++i) {
    rest[i] -= out.slope * x[i];
  }
  out.residual_intercept = *median(rest);

  const double n = static_cast<double>(x.size());
  const Ties tx = ties_of(x);
  const Ties ty = ties_of(y);
  const double all_pairs = n * (n - 1.0) / 2.0;
  if (ty.pairs < all_pairs) {
    out.kendall_tau_b = concordance / std::sqrt((all_pairs - tx.pairs) * (all_pairs - ty.pairs));
  }
  const double variance = (n * (n - 1.0) * (2.0 * n + 5.0) - tx.sen - ty.sen) / 18.0 +
                          2.0 * tx.pairs * ty.pairs / (n * (n - 1.0)) +
                          (n > 2.0 ? tx.triples * ty.triples / (9.0 * n * (n - 1.0) * (n - 2.0)) : 0.0);
  out.kendall_s = concordance;
  out.kendall_variance = variance;
  if (variance > 0.0) {
    const double count = static_cast<double>(slopes.size());
    const double half = normal_quantile(0.5 + 0.5 * level) * std::sqrt(variance);
    // Sen's values of rank M1 = (N - C)/2 and M2 + 1 = (N + C)/2 + 1, to the nearest whole number and kept within the
    // list.
    const double lower = std::nearbyint((count - half) / 2.0) - 1.0;
    const double upper = std::nearbyint((count + half) / 2.0);
    const auto value = [&](double index) {
      return slopes[static_cast<std::size_t>(std::clamp(index, 0.0, count - 1.0))];
    };
    out.slope_interval = Interval{value(lower), value(upper)};
  }
  return out;
}

std::vector<double> isotonic(std::span<const double> y, std::span<const double> weights, Order order) {
  check::all_finite("isotonic", "y", y);
  if (!weights.empty()) {
    check::same_size("isotonic", "y", y.size(), "weights", weights.size());
    for (const double w : weights) {
      check::positive("isotonic", "a weight", w);
    }
  }
  const double sign = order == Order::increasing ? 1.0 : -1.0;
  struct Pool {
    double mean;
    double weight;
    std::size_t size;
  };
  std::vector<Pool> pools;
  for (std::size_t i = 0; i < y.size(); ++i) {
    pools.push_back({sign * y[i], weights.empty() ? 1.0 : weights[i], 1});
    while (pools.size() > 1 && pools[pools.size() - 2].mean >= pools.back().mean) {
      const Pool last = pools.back();
      pools.pop_back();
      Pool& into = pools.back();
      const double weight = into.weight + last.weight;
      into.mean += (last.mean - into.mean) * (last.weight / weight);
      into.weight = weight;
      into.size += last.size;
    }
  }
  std::vector<double> out;
  for (const Pool& pool : pools) {
    out.insert(out.end(), pool.size, sign * pool.mean);
  }
  return out;
}

}  // namespace bagsplit::stats
