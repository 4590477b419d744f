#include "bagsplit/stats/planning.hpp"

#include <cmath>

#include "bagsplit/stats/detail/check.hpp"
#include "bagsplit/stats/distributions.hpp"

namespace bagsplit::stats {

namespace {

constexpr double largest_size = 1e6;

/// Smallest whole n in [lo, 1e6] for which `enough` holds; `enough` must stay true once it is.
template <class Enough>
std::optional<std::size_t> smallest(double lo, const Enough& enough) {
  if (enough(lo)) {
    return static_cast<std::size_t>(lo);
  }
  double hi = lo;
  do {
    lo = hi;
    if (hi >= largest_size) {
      return std::nullopt;
    }
    hi = std::fmin(std::floor(2.0 * hi), largest_size);
  } while (!enough(hi));
  while (hi - lo > 1.0) {
    const double middle = std::floor(0.5 * (lo + hi));
    (enough(middle) ? hi : lo) = middle;
  }
  return static_cast<std::size_t>(hi);
}

}  // namespace

double t_test_power(Design design, double n, double delta, double sd, double alpha, Tails tails) {
  if (!(n >= 2.0 && std::isfinite(n))) {
    check::fail("t_test_power", "n", n, "finite and at least 2");
  }
  check::finite("t_test_power", "delta", delta);
  check::positive("t_test_power", "sd", sd);
  check::open_unit("t_test_power", "alpha", alpha);
  const bool two = design == Design::two_sample;
  const double df = two ? 2.0 * n - 2.0 : n - 1.0;
  const double ncp = std::fabs(delta) / sd * std::sqrt(two ? 0.5 * n : n);
  const double critical = student_t_quantile(1.0 - 0.5 * alpha, df);
  if (ncp > critical + 38.0) {
    return 1.0;  // beyond the reach of doubles, and of the series
  }
  const double near = noncentral_t_upper_tail(critical, df, ncp);
  return tails == Tails::near ? near : std::fmin(1.0, near + noncentral_t_cdf(-critical, df, ncp));
}

std::optional<std::size_t> t_test_sample_size(Design design, double delta, double sd, double power, double alpha) {
  check::open_unit("t_test_sample_size", "power", power);
  return smallest(2.0, [&](double n) { return t_test_power(design, n, delta, sd, alpha) >= power; });
}

std::optional<double> t_test_fractional_size(Design design, double delta, double sd, double power, double alpha,
                                             Tails tails) {
  check::open_unit("t_test_fractional_size", "power", power);
  const auto enough = [&](double n) { return t_test_power(design, n, delta, sd, alpha, tails) >= power; };
  const auto whole = smallest(2.0, enough);
  if (!whole) {
    return std::nullopt;
  }
  double hi = static_cast<double>(*whole);
  double lo = std::fmax(2.0, hi - 1.0);
  while (hi - lo > 1e-12 * hi) {
    const double middle = 0.5 * (lo + hi);
    if (!(middle > lo && middle < hi)) {
      break;
    }
    (enough(middle) ? hi : lo) = middle;
  }
  return hi;
}

double t_half_width(std::size_t n, double sd, double level) {
  if (n < 2) {
    check::fail("t_half_width", "n", static_cast<double>(n), "at least 2");
  }
  check::not_negative("t_half_width", "sd", sd);
  check::open_unit("t_half_width", "level", level);
  const double nd = static_cast<double>(n);
  return student_t_quantile(0.5 + 0.5 * level, nd - 1.0) * sd / std::sqrt(nd);
}

std::optional<std::size_t> size_for_half_width(double half_width, double sd, double level) {
  check::positive("size_for_half_width", "half_width", half_width);
  return smallest(2.0, [&](double n) { return t_half_width(static_cast<std::size_t>(n), sd, level) <= half_width; });
}

double trials_for_icc(double icc_single, double target) {
  check::open_unit("trials_for_icc", "icc_single", icc_single);
  check::open_unit("trials_for_icc", "target", target);
  return target * (1.0 - icc_single) / (icc_single * (1.0 - target));
}

double trials_for_detectable_change(double sem, double change, double level) {
  check::not_negative("trials_for_detectable_change", "sem", sem);
  check::positive("trials_for_detectable_change", "change", change);
  check::open_unit("trials_for_detectable_change", "level", level);
  const double ratio = normal_quantile(0.5 + 0.5 * level) * std::sqrt(2.0) * sem / change;
  return ratio * ratio;
}

std::size_t whole_trials(double trials) {
  check::not_negative("whole_trials", "trials", trials);
  return static_cast<std::size_t>(std::fmax(1.0, std::ceil(trials - 1e-9)));
}

}  // namespace bagsplit::stats
