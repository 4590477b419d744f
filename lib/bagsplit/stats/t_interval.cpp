#include "bagsplit/stats/t_interval.hpp"

#include <cmath>

#include "bagsplit/stats/detail/check.hpp"
#include "bagsplit/stats/distributions.hpp"
#include "bagsplit/stats/univariate.hpp"

namespace bagsplit::stats {

namespace {

double difference(Wide a, Wide b) {
  return (a.hi - b.hi) + (a.lo - b.lo);
}

}  // namespace

TEstimate t_estimate(double estimate, double se, double df, double level, double hypothesis) {
  check::finite("t_estimate", "estimate", estimate);
  check::not_negative("t_estimate", "se", se);
  check::open_unit("t_estimate", "level", level);
  const double half = student_t_quantile(0.5 + 0.5 * level, df) * se;
  TEstimate out{estimate, se, df, {estimate - half, estimate + half}, std::nullopt, std::nullopt};
  if (se > 0.0) {
    out.t = (estimate - hypothesis) / se;
    out.p_two_sided = student_t_two_sided_p(*out.t, df);
  }
  return out;
}

std::optional<TEstimate> one_sample_t(std::span<const double> x, double level, double hypothesis) {
  check::open_unit("one_sample_t", "level", level);
  check::all_finite("one_sample_t", "x", x);
  check::finite("one_sample_t", "hypothesis", hypothesis);
  if (x.size() < 2) {
    return std::nullopt;
  }
  return t_estimate(wide_mean(x).hi, *standard_error(x), static_cast<double>(x.size() - 1), level, hypothesis);
}

std::optional<TEstimate> paired_t(std::span<const double> x, std::span<const double> y, double level) {
  return one_sample_t(check::differences("paired_t", x, y), level);
}

std::optional<TEstimate> welch_t(std::span<const double> x, std::span<const double> y, double level) {
  check::open_unit("welch_t", "level", level);
  const auto vx = variance(x);
  const auto vy = variance(y);
  if (!vx || !vy) {
    return std::nullopt;
  }
  const double nx = static_cast<double>(x.size());
  const double ny = static_cast<double>(y.size());
  const double a = *vx / nx;
  const double b = *vy / ny;
  if (!(a + b > 0.0)) {
    return std::nullopt;
  }
  const double share = a / (a + b);
  const double df = 1.0 / (share * share / (nx - 1.0) + (1.0 - share) * (1.0 - share) / (ny - 1.0));
  return t_estimate(difference(wide_mean(x), wide_mean(y)), std::sqrt(a + b), df, level);
}

std::optional<TEstimate> pooled_t(std::span<const double> x, std::span<const double> y, double level) {
  check::open_unit("pooled_t", "level", level);
  check::all_finite("pooled_t", "x", x);
  check::all_finite("pooled_t", "y", y);
  if (x.empty() || y.empty() || x.size() + y.size() < 3) {
    return std::nullopt;
  }
  const double nx = static_cast<double>(x.size());
  const double ny = static_cast<double>(y.size());
  const double df = nx + ny - 2.0;
  const Wide mx = wide_mean(x);
  const Wide my = wide_mean(y);
  const double pooled = (sum_of_squares_about(x, mx) + sum_of_squares_about(y, my)) / df;
  return t_estimate(difference(mx, my), std::sqrt(pooled * (1.0 / nx + 1.0 / ny)), df, level);
}

}  // namespace bagsplit::stats
