#include "bagsplit/stats/univariate.hpp"

#include <algorithm>
#include <cmath>

#include "bagsplit/stats/detail/check.hpp"

namespace bagsplit::stats {

namespace {

/// hi + lo = a + b exactly (Knuth's two-sum).
Wide two_sum(double a, double b) {
  const double s = a + b;
  const double bb = s - a;
  return {s, (a - (s - bb)) + (b - bb)};
}

Wide two_product(double a, double b) {
  const double p = a * b;
  return {p, std::fma(a, b, -p)};
}

void add(Wide& total, double value) {
  const Wide s = two_sum(total.hi, value);
  const Wide r = two_sum(s.hi, s.lo + total.lo);
  total = r;
}

void add_product(Wide& total, double a, double b) {
  const Wide p = two_product(a, b);
  add(total, p.hi);
  total.lo += p.lo;
}

/// x - mean, rounded once.
double deviation(double x, Wide mean) {
  const Wide d = two_sum(x, -mean.hi);
  return d.hi + (d.lo - mean.lo);
}

double sum_of_products(std::span<const double> x, Wide mean_x, std::span<const double> y, Wide mean_y) {
  Wide total;
  for (std::size_t i = 0; i < x.size(); ++i) {
    add_product(total, deviation(x[i], mean_x), deviation(y[i], mean_y));
  }
  return total.hi + total.lo;
}

}  // namespace

Wide wide_sum(std::span<const double> values) {
  check::all_finite("sum", "values", values);
  Wide total;
  for (const double v : values) {
    add(total, v);
  }
  return total;
}

Wide wide_mean(std::span<const double> values) {
  if (values.empty()) {
    check::fail_call("wide_mean", "values is empty, but must have at least 1 element");
  }
  if (std::all_of(values.begin(), values.end(), [&](double v) { return v == values[0]; })) {
    check::finite("wide_mean", "values[0]", values[0]);
    return {values[0], 0.0};  // so that equal times have a variance of exactly 0
  }
  const Wide total = wide_sum(values);
  const double n = static_cast<double>(values.size());
  const double q = total.hi / n;
  // Remainder of the division, exactly: total - q n.
  const Wide back = two_product(q, n);
  const double rest = ((total.hi - back.hi) - back.lo) + total.lo;
  return two_sum(q, rest / n);
}

double sum(std::span<const double> values) {
  const Wide total = wide_sum(values);
  return total.hi + total.lo;
}

double sum_of_squares_about(std::span<const double> values, Wide mean) {
  return sum_of_products(values, mean, values, mean);
}

std::optional<double> mean(std::span<const double> values) {
  if (values.empty()) {
    return std::nullopt;
  }
  return wide_mean(values).hi;
}

std::optional<double> variance(std::span<const double> values) {
  if (values.size() < 2) {
    check::all_finite("variance", "values", values);
    return std::nullopt;
  }
  return sum_of_squares_about(values, wide_mean(values)) / static_cast<double>(values.size() - 1);
}

std::optional<double> standard_deviation(std::span<const double> values) {
  const auto v = variance(values);
  return v ? std::optional(std::sqrt(*v)) : std::nullopt;
}

std::optional<double> skewness(std::span<const double> values) {
  if (values.size() < 3) {
    check::all_finite("skewness", "values", values);
    return std::nullopt;
  }
  const Wide m = wide_mean(values);
  const double n = static_cast<double>(values.size());
  const double m2 = sum_of_squares_about(values, m) / n;
  Wide cubes;
  for (const double v : values) {
    const double d = deviation(v, m);
    add_product(cubes, d * d, d);
  }
  return m2 > 0.0 ? std::optional((cubes.hi + cubes.lo) / n / (m2 * std::sqrt(m2))) : std::nullopt;
}

std::optional<double> covariance(std::span<const double> x, std::span<const double> y) {
  check::same_size("covariance", "x", x.size(), "y", y.size());
  check::all_finite("covariance", "y", y);
  if (x.size() < 2) {
    check::all_finite("covariance", "x", x);
    return std::nullopt;
  }
  return sum_of_products(x, wide_mean(x), y, wide_mean(y)) / static_cast<double>(x.size() - 1);
}

std::optional<double> correlation(std::span<const double> x, std::span<const double> y) {
  check::same_size("correlation", "x", x.size(), "y", y.size());
  if (x.size() < 2) {
    return std::nullopt;
  }
  const Wide mx = wide_mean(x);
  const Wide my = wide_mean(y);
  const double xx = sum_of_squares_about(x, mx);
  const double yy = sum_of_squares_about(y, my);
  if (!(xx > 0.0 && yy > 0.0)) {
    return std::nullopt;
  }
  return std::clamp(sum_of_products(x, mx, y, my) / xx * std::sqrt(xx / yy), -1.0, 1.0);
}

}  // namespace bagsplit::stats
