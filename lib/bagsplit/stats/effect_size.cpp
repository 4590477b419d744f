#include "bagsplit/stats/effect_size.hpp"

#include <boost/math/special_functions/gamma.hpp>
#include <boost/math/tools/roots.hpp>
#include <cmath>
#include <exception>

#include "bagsplit/stats/check.hpp"
#include "bagsplit/stats/distributions.hpp"
#include "bagsplit/stats/univariate.hpp"

namespace bagsplit::stats {

namespace {

constexpr double largest_t = 1e3;

/// The ncp at which P(T <= t) = p; the probability falls as ncp rises.
std::optional<double> noncentrality_at(double t, double df, double p) {
  // Work on the smaller tail, where digits are kept.
  const auto gap = [&](double ncp) {
    return p <= 0.5 ? noncentral_t_cdf(t, df, ncp) - p : (1.0 - p) - noncentral_t_upper_tail(t, df, ncp);
  };
  try {
    double lo = t - 4.0;
    double hi = t + 4.0;
    // The noncentral t spreads with |t| / sqrt(2 df): step outwards in growing strides.
    double stride = 4.0 + std::fabs(t) / std::sqrt(2.0 * df);
    while (gap(lo) < 0.0 && std::fabs(lo) < 1e2 * largest_t) {
      lo -= stride;
      stride *= 1.5;
    }
    stride = 4.0 + std::fabs(t) / std::sqrt(2.0 * df);
    while (gap(hi) > 0.0 && std::fabs(hi) < 1e2 * largest_t) {
      hi += stride;
      stride *= 1.5;
    }
    if (gap(lo) < 0.0 || gap(hi) > 0.0) {
      return std::nullopt;
    }
    std::uintmax_t iterations = 200;
    const auto root =
        boost::math::tools::toms748_solve(gap, lo, hi, boost::math::tools::eps_tolerance<double>(48), iterations);
    return 0.5 * (root.first + root.second);
  } catch (const std::exception&) {
    return std::nullopt;  // Boost could not evaluate the tail; said by an absent interval, not by a wrong one
  }
}

EffectSize with_intervals(double d, double df, double t_per_d, double level, SmallSampleFactor factor) {
  EffectSize out{d, df, std::nullopt, std::nullopt, std::nullopt};
  if (const auto ncp = noncentrality_interval(d * t_per_d, df, level)) {
    out.d_interval = Interval{ncp->lo / t_per_d, ncp->hi / t_per_d};
  }
  if (df > 1.0) {
    const double j = small_sample_factor(df, factor);
    out.g = j * d;
    if (out.d_interval) {
      out.g_interval = Interval{j * out.d_interval->lo, j * out.d_interval->hi};
    }
  }
  return out;
}

}  // namespace

double small_sample_factor(double df, SmallSampleFactor kind) {
  if (kind == SmallSampleFactor::approximate) {
    if (!(df >= 1.0)) {
      check::fail("small_sample_factor", "df", df, "at least 1");
    }
    return 1.0 - 3.0 / (4.0 * df - 1.0);
  }
  if (!(df > 1.0)) {
    check::fail("small_sample_factor", "df", df, "above 1");
  }
  if (df > 1e6) {
    return 1.0 - 0.75 / df;  // the two log-gammas cancel; the next term is below 1e-12
  }
  return std::exp(boost::math::lgamma(0.5 * df) - boost::math::lgamma(0.5 * (df - 1.0))) / std::sqrt(0.5 * df);
}

std::optional<Interval> noncentrality_interval(double t, double df, double level) {
  check::open_unit("noncentrality_interval", "level", level);
  check::finite("noncentrality_interval", "t", t);
  check::positive("noncentrality_interval", "df", df);
  if (std::fabs(t) > largest_t) {
    return std::nullopt;
  }
  const double tail = 0.5 - 0.5 * level;
  const auto lo = noncentrality_at(t, df, 1.0 - tail);
  const auto hi = noncentrality_at(t, df, tail);
  return lo && hi ? std::optional(Interval{*lo, *hi}) : std::nullopt;
}

std::optional<EffectSize> two_sample_effect(std::span<const double> x, std::span<const double> y, double level,
                                            SmallSampleFactor factor) {
  check::open_unit("two_sample_effect", "level", level);
  check::all_finite("two_sample_effect", "x", x);
  check::all_finite("two_sample_effect", "y", y);
  if (x.empty() || y.empty() || x.size() + y.size() < 3) {
    return std::nullopt;
  }
  const double nx = static_cast<double>(x.size());
  const double ny = static_cast<double>(y.size());
  const double df = nx + ny - 2.0;
  const Wide mx = wide_mean(x);
  const Wide my = wide_mean(y);
  const double pooled = std::sqrt((sum_of_squares_about(x, mx) + sum_of_squares_about(y, my)) / df);
  if (!(pooled > 0.0)) {
    return std::nullopt;
  }
  const double d = ((mx.hi - my.hi) + (mx.lo - my.lo)) / pooled;
  return with_intervals(d, df, 1.0 / std::sqrt(1.0 / nx + 1.0 / ny), level, factor);
}

std::optional<EffectSize> paired_effect(std::span<const double> x, std::span<const double> y, double level,
                                        SmallSampleFactor factor) {
  check::open_unit("paired_effect", "level", level);
  const auto z = check::differences("paired_effect", x, y);
  const auto sd = standard_deviation(z);
  if (!sd || !(*sd > 0.0)) {
    return std::nullopt;
  }
  const double n = static_cast<double>(z.size());
  return with_intervals(*mean(z) / *sd, n - 1.0, std::sqrt(n), level, factor);
}

std::optional<double> paired_d_av(std::span<const double> x, std::span<const double> y) {
  const auto z = check::differences("paired_effect", x, y);
  const auto vx = variance(x);
  const auto vy = variance(y);
  if (!vx || !vy || !(*vx + *vy > 0.0)) {
    return std::nullopt;
  }
  return *mean(z) / std::sqrt(0.5 * (*vx + *vy));
}

std::optional<double> paired_d_rm(std::span<const double> x, std::span<const double> y) {
  const auto z = check::differences("paired_effect", x, y);
  const auto sd = standard_deviation(z);
  const auto r = correlation(x, y);
  if (!sd || !(*sd > 0.0) || !r) {
    return std::nullopt;
  }
  return *mean(z) / *sd * std::sqrt(2.0 * (1.0 - *r));
}

}  // namespace bagsplit::stats
