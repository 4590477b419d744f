#include "bagsplit/stats/bootstrap.hpp"

#include <algorithm>
#include <boost/math/special_functions/gamma.hpp>
#include <cmath>
#include <numeric>

#include "bagsplit/stats/check.hpp"
#include "bagsplit/stats/distributions.hpp"
#include "bagsplit/stats/quantile.hpp"
#include "bagsplit/stats/random.hpp"
#include "bagsplit/stats/univariate.hpp"

namespace bagsplit::stats {

namespace {

constexpr std::size_t resamples_a_block = 64;  // resamples to a random stream

void check_statistic(const char* who, const IndexStatistic& statistic) {
  if (!statistic) {
    check::fail_call(who, "the statistic is empty");
  }
}

std::vector<std::size_t> all_rows(std::size_t n) {
  std::vector<std::size_t> rows(n);
  std::iota(rows.begin(), rows.end(), std::size_t{0});
  return rows;
}

/// Every way to take n of n values with repetition, as ascending index lists, with its multinomial probability.
void enumerate(std::size_t n, const IndexStatistic& statistic, std::vector<double>& values,
               std::vector<double>& weights) {
  std::vector<std::size_t> rows(n, 0);
  const double log_all =
      boost::math::lgamma(static_cast<double>(n) + 1.0) - static_cast<double>(n) * std::log(static_cast<double>(n));
  for (;;) {
    double log_weight = log_all;
    for (std::size_t i = 0; i < n;) {
      std::size_t j = i;
      while (j < n && rows[j] == rows[i]) {
        ++j;
      }
      log_weight -= boost::math::lgamma(static_cast<double>(j - i) + 1.0);
      i = j;
    }
    values.push_back(statistic(rows));
    weights.push_back(std::exp(log_weight));
    std::size_t i = n;
    while (i > 0 && rows[i - 1] == n - 1) {
      --i;
    }
    if (i == 0) {
      return;
    }
    std::fill(rows.begin() + static_cast<std::ptrdiff_t>(i - 1), rows.end(), rows[i - 1] + 1);
  }
}

void draw(std::size_t n, const IndexStatistic& statistic, const BootstrapOptions& options,
          std::vector<double>& values) {
  values.assign(options.resamples, 0.0);
  const std::size_t blocks = (options.resamples + resamples_a_block - 1) / resamples_a_block;
  for_each_index(blocks, options.threads, [&](std::size_t b) {
    RandomStream random(options.seed, b);
    std::vector<std::size_t> rows(n);
    const std::size_t end = std::min(options.resamples, (b + 1) * resamples_a_block);
    for (std::size_t i = b * resamples_a_block; i < end; ++i) {
      for (auto& row : rows) {
        row = random.below(n);
      }
      values[i] = statistic(rows);
    }
  });
}

/// Leaves undefined replicates out and sorts the rest with their weights.
std::size_t tidy(std::vector<double>& values, std::vector<double>& weights) {
  std::vector<std::size_t> order;
  for (std::size_t i = 0; i < values.size(); ++i) {
    if (std::isfinite(values[i])) {
      order.push_back(i);
    }
  }
  const std::size_t undefined = values.size() - order.size();
  std::stable_sort(order.begin(), order.end(), [&](std::size_t a, std::size_t b) { return values[a] < values[b]; });
  std::vector<double> v, w;
  for (const std::size_t i : order) {
    v.push_back(values[i]);
    if (!weights.empty()) {
      w.push_back(weights[i]);
    }
  }
  values = std::move(v);
  weights = std::move(w);
  return undefined;
}

double quantile_of(const Bootstrap& d, double p) {
  return d.exhaustive ? *weighted_quantile_sorted(d.values, d.weights, p)
                      : *quantile_sorted(d.values, p, QuantileType::weibull);
}

}  // namespace

std::optional<Jackknife> jackknife(std::size_t n, const IndexStatistic& statistic) {
  check_statistic("jackknife", statistic);
  if (n < 2) {
    return std::nullopt;
  }
  Jackknife out{};
  out.estimate = statistic(all_rows(n));
  for (std::size_t i = 0; i < n; ++i) {
    std::vector<std::size_t> rows = all_rows(n);
    rows.erase(rows.begin() + static_cast<std::ptrdiff_t>(i));
    out.leave_one_out.push_back(statistic(rows));
    if (!std::isfinite(out.leave_one_out.back())) {
      return std::nullopt;
    }
  }
  if (!std::isfinite(out.estimate)) {
    return std::nullopt;
  }
  const double nd = static_cast<double>(n);
  const double m = *mean(out.leave_one_out);
  double squares = 0.0;
  double cubes = 0.0;
  for (const double t : out.leave_one_out) {
    const double u = m - t;
    squares += u * u;
    cubes += u * u * u;
  }
  out.se = std::sqrt((nd - 1.0) / nd * squares);
  out.bias = (nd - 1.0) * (m - out.estimate);
  if (squares > 0.0) {
    out.acceleration = cubes / (6.0 * squares * std::sqrt(squares));
  }
  return out;
}

std::optional<Bootstrap> bootstrap(std::size_t n, const IndexStatistic& statistic, const BootstrapOptions& options) {
  check_statistic("bootstrap", statistic);
  if (options.exhaustive_up_to > 12) {
    check::fail("bootstrap", "options.exhaustive_up_to", static_cast<double>(options.exhaustive_up_to), "at most 12");
  }
  if (options.resamples < 2) {
    check::fail("bootstrap", "options.resamples", static_cast<double>(options.resamples), "at least 2");
  }
  if (n < 1) {
    return std::nullopt;
  }
  Bootstrap out{};
  out.seed = options.seed;
  out.estimate = statistic(all_rows(n));
  if (!std::isfinite(out.estimate)) {
    return std::nullopt;
  }
  out.exhaustive = n <= options.exhaustive_up_to;
  if (out.exhaustive) {
    enumerate(n, statistic, out.values, out.weights);
  } else {
    draw(n, statistic, options, out.values);
  }
  const auto weight = [&](std::size_t i) { return out.weights.empty() ? 1.0 : out.weights[i]; };
  double tried = 0.0;
  for (std::size_t i = 0; i < out.values.size(); ++i) {
    tried += weight(i);
  }
  out.undefined = tidy(out.values, out.weights);
  double total = 0.0;
  double weighted = 0.0;
  for (std::size_t i = 0; i < out.values.size(); ++i) {
    total += weight(i);
    weighted += weight(i) * (out.values[i] - out.estimate);
  }
  if (total < 0.5 * tried || out.values.size() < (out.exhaustive ? 1 : 2)) {
    return std::nullopt;
  }
  out.bias = weighted / total;
  const double tolerance = 1e-10 * (out.values.back() - out.values.front());
  double squares = 0.0;
  for (std::size_t i = 0; i < out.values.size(); ++i) {
    const double d = out.values[i] - out.estimate;
    squares += weight(i) * (d - out.bias) * (d - out.bias);
    if (std::fabs(d) <= tolerance) {
      out.share_equal += weight(i) / total;
    } else if (d < 0.0) {
      out.share_below += weight(i) / total;
    }
  }
  out.se = std::sqrt(squares / (out.exhaustive ? total : total - 1.0));
  return out;
}

Interval percentile_interval(const Bootstrap& distribution, double level) {
  check::open_unit("percentile_interval", "level", level);
  const double tail = 0.5 - 0.5 * level;
  return {quantile_of(distribution, tail), quantile_of(distribution, 1.0 - tail)};
}

std::optional<BcaInterval> bca_interval(const Bootstrap& distribution, std::optional<double> acceleration, double level,
                                        BiasCorrection correction) {
  check::open_unit("bca_interval", "level", level);
  const double below =
      distribution.share_below + (correction == BiasCorrection::half_of_ties ? 0.5 * distribution.share_equal : 0.0);
  if (!acceleration || !(below > 0.0 && below < 1.0)) {
    return std::nullopt;
  }
  BcaInterval out{};
  out.z0 = normal_quantile(below);
  out.acceleration = *acceleration;
  const double z = normal_quantile(0.5 + 0.5 * level);
  const auto adjusted = [&](double quantile) -> std::optional<double> {
    const double shifted = out.z0 + quantile;
    const double bottom = 1.0 - out.acceleration * shifted;
    return bottom > 0.0 ? std::optional(normal_cdf(out.z0 + shifted / bottom)) : std::nullopt;
  };
  const auto lo = adjusted(-z);
  const auto hi = adjusted(z);
  if (!lo || !hi) {
    return std::nullopt;
  }
  out.level_lo = *lo;
  out.level_hi = *hi;
  out.interval = {quantile_of(distribution, *lo), quantile_of(distribution, *hi)};
  return out;
}

}  // namespace bagsplit::stats
