#include "bagsplit/stats/shrinkage.hpp"

#include <algorithm>
#include <cmath>

#include "bagsplit/stats/check.hpp"
#include "bagsplit/stats/elementary.hpp"
#include "bagsplit/stats/univariate.hpp"

namespace bagsplit::stats {

namespace {

struct Weighted {
  double weight = 0.0;   // sum w
  double squared = 0.0;  // sum w^2
  double mean = 0.0;
  double q = 0.0;      // sum w (y - mean)^2
  double q2 = 0.0;     // sum w^2 (y - mean)^2
  double log_v = 0.0;  // sum log(v + tau2)
};

Weighted at(std::span<const double> y, std::span<const double> v, double tau2) {
  Weighted s;
  const double origin = y[0];
  for (std::size_t i = 0; i < y.size(); ++i) {
    const double w = 1.0 / (v[i] + tau2);
    s.weight += w;
    s.squared += w * w;
    s.mean += w * (y[i] - origin);
    s.log_v += std::log(v[i] + tau2);
  }
  s.mean = origin + s.mean / s.weight;
  for (std::size_t i = 0; i < y.size(); ++i) {
    const double w = 1.0 / (v[i] + tau2);
    const double d = y[i] - s.mean;
    s.q += w * d * d;
    s.q2 += w * w * d * d;
  }
  return s;
}

double criterion(const Weighted& s) {
  return s.log_v + std::log(s.weight) + s.q;
}

/// Derivative of the criterion with respect to tau2.
double slope(const Weighted& s) {
  return s.weight - s.squared / s.weight - s.q2;
}

double reml_tau2(std::span<const double> y, std::span<const double> v) {
  const double smallest = *std::min_element(v.begin(), v.end());
  const double spread = *variance(y);
  const double largest = std::fmax(20.0 * spread, 1e-12 * smallest);
  // The criterion may have more than one minimum: scan from next to nothing to far above, then close in on the best.
  constexpr int points = 80;
  const double from = 1e-9 * smallest;
  double best = 0.0;
  double lowest = criterion(at(y, v, 0.0));
  int where = -1;
  const auto grid = [&](int i) {
    return i < 0 ? 0.0 : from * std::pow(largest / from, static_cast<double>(i) / points);
  };
  if (!(largest > from)) {
    return 0.0;
  }
  for (int i = 0; i <= points; ++i) {
    const double here = criterion(at(y, v, grid(i)));
    if (here < lowest) {
      lowest = here;
      where = i;
      best = grid(i);
    }
  }
  double lo = where <= 0 ? 0.0 : grid(where - 1);
  double hi = where < 0 ? grid(0) : grid(std::min(where + 1, points));
  if (slope(at(y, v, lo)) >= 0.0) {
    return where < 0 ? 0.0 : best;
  }
  for (int i = 0; i < 200 && hi - lo > 1e-16 * hi; ++i) {
    const double middle = 0.5 * (lo + hi);
    (slope(at(y, v, middle)) < 0.0 ? lo : hi) = middle;
  }
  return 0.5 * (lo + hi);
}

}  // namespace

std::optional<JamesStein> james_stein(std::span<const double> y, double variance_known) {
  check::all_finite("james_stein", "y", y);
  check::positive("james_stein", "variance", variance_known);
  if (y.size() < 4) {
    return std::nullopt;
  }
  const Wide m = wide_mean(y);
  const double squares = sum_of_squares_about(y, m);
  JamesStein out{m.hi, 0.0, {}};
  if (squares > 0.0) {
    out.factor = std::fmax(0.0, 1.0 - (static_cast<double>(y.size()) - 3.0) * variance_known / squares);
  }
  for (const double v : y) {
    out.estimates.push_back(m.hi + out.factor * (v - m.hi));
  }
  return out;
}

std::optional<NormalShrinkage> normal_shrinkage(std::span<const double> y, std::span<const double> variances,
                                                BetweenVariance method) {
  check::same_size("normal_shrinkage", "y", y.size(), "variances", variances.size());
  check::all_finite("normal_shrinkage", "y", y);
  for (const double v : variances) {
    check::positive("normal_shrinkage", "a variance", v);
  }
  if (y.size() < 2) {
    return std::nullopt;
  }
  const double k = static_cast<double>(y.size());
  const Weighted fixed = at(y, variances, 0.0);
  NormalShrinkage out{};
  out.q = fixed.q;
  if (method == BetweenVariance::dersimonian_laird) {
    out.tau2 = std::fmax(0.0, (fixed.q - (k - 1.0)) / (fixed.weight - fixed.squared / fixed.weight));
  } else {
    out.tau2 = reml_tau2(y, variances);
  }
  const Weighted s = at(y, variances, out.tau2);
  out.status = out.tau2 > 0.0 ? FitStatus::converged : FitStatus::at_boundary;
  out.mu = s.mean;
  out.mu_se = std::sqrt(1.0 / s.weight);
  for (std::size_t i = 0; i < y.size(); ++i) {
    const double b = variances[i] / (variances[i] + out.tau2);
    const double kept = out.tau2 / (variances[i] + out.tau2);
    out.factor.push_back(b);
    out.estimates.push_back(s.mean + kept * (y[i] - s.mean));
    out.se_plug_in.push_back(std::sqrt(kept * variances[i]));
    out.se.push_back(std::sqrt(kept * variances[i] + b * b / s.weight));
  }
  if (method == BetweenVariance::reml) {
    out.log_likelihood = -0.5 * ((k - 1.0) * log_two_pi - std::log(k) + criterion(s));
  }
  return out;
}

}  // namespace bagsplit::stats
