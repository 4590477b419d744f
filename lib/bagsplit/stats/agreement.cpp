#include "bagsplit/stats/agreement.hpp"

#include <cmath>
#include <map>
#include <utility>
#include <vector>

#include "bagsplit/stats/detail/check.hpp"
#include "bagsplit/stats/distributions.hpp"
#include "bagsplit/stats/univariate.hpp"

namespace bagsplit::stats {

namespace {

double multiplier_of(const AgreementOptions& options) {
  check::open_unit("limits_of_agreement", "options.level", options.level);
  check::open_unit("limits_of_agreement", "options.coverage", options.coverage);
  if (options.multiplier) {
    check::positive("limits_of_agreement", "options.multiplier", *options.multiplier);
    return *options.multiplier;
  }
  return normal_quantile(0.5 + 0.5 * options.coverage);
}

/// One part of a sum of variances: weight * variance, the variance on df degrees of freedom.
struct VariancePart {
  double weight;
  double variance;
  double df;
};

/// Bias and limits from subject means (n of them, with variance `between`) and a total variance in parts; the limits'
/// intervals by recovering variance estimates (MOVER): the distances of the separate limits are added in squares.
Agreement mover(double n, double bias, double between, std::span<const VariancePart> parts,
                const AgreementOptions& options) {
  const double z = multiplier_of(options);
  const double tail = 0.5 - 0.5 * options.level;
  double total = 0.0;
  double below = 0.0;
  double above = 0.0;
  for (const auto& part : parts) {
    const double v = part.weight * part.variance;
    total += v;
    if (part.df > 0.0 && v > 0.0) {
      const double down = v * (1.0 - part.df / chi_square_quantile(1.0 - tail, part.df));
      const double up = v * (part.df / chi_square_quantile(tail, part.df) - 1.0);
      below += down * down;
      above += up * up;
    }
  }
  const double sd = std::sqrt(total);
  const double sd_low = std::sqrt(std::fmax(0.0, total - std::sqrt(below)));
  const double sd_high = std::sqrt(total + std::sqrt(above));
  const double se = std::sqrt(between / n);
  const double half = student_t_quantile(1.0 - tail, n - 1.0) * se;
  Agreement out{n, bias, sd, se, {bias - half, bias + half}, {bias - z * sd, bias + z * sd}, {}, {}};
  const double outward = std::hypot(half, z * (sd_high - sd));
  const double inward = std::hypot(half, z * (sd - sd_low));
  out.lower_limit_interval = {out.limits.lo - outward, out.limits.lo + inward};
  out.upper_limit_interval = {out.limits.hi - inward, out.limits.hi + outward};
  return out;
}

std::map<int, std::vector<double>> by_subject(std::span<const double> values, std::span<const int> subject) {
  check::same_size("limits_of_agreement", "values", values.size(), "subject", subject.size());
  check::all_finite("limits_of_agreement", "values", values);
  std::map<int, std::vector<double>> out;
  for (std::size_t i = 0; i < values.size(); ++i) {
    out[subject[i]].push_back(values[i]);
  }
  return out;
}

/// Pooled variance within subjects and the harmonic mean of their numbers.
struct Within {
  double squares = 0.0;
  double df = 0.0;
  double inverse_sizes = 0.0;
  double subjects = 0.0;

  void add(std::span<const double> values) {
    squares += sum_of_squares_about(values, wide_mean(values));
    df += static_cast<double>(values.size() - 1);
    inverse_sizes += 1.0 / static_cast<double>(values.size());
    subjects += 1.0;
  }
  /// (1 - 1/m_h) s_w^2
  VariancePart part() const { return {1.0 - inverse_sizes / subjects, df > 0.0 ? squares / df : 0.0, df}; }
};

}  // namespace

std::optional<Agreement> limits_of_agreement(std::span<const double> first, std::span<const double> second,
                                             const AgreementOptions& options) {
  const double z = multiplier_of(options);
  const auto d = check::differences("limits_of_agreement", first, second);
  if (d.size() < 2) {
    return std::nullopt;
  }
  const double n = static_cast<double>(d.size());
  const double bias = *mean(d);
  const double sd = *standard_deviation(d);
  const double se = sd / std::sqrt(n);
  const double tail = 0.5 - 0.5 * options.level;
  const double t = student_t_quantile(1.0 - tail, n - 1.0);
  Agreement out{n, bias, sd, se, {bias - t * se, bias + t * se}, {bias - z * sd, bias + z * sd}, {}, {}};
  if (options.method == LimitInterval::exact) {
    // (limit - mean) sqrt(n) / sd is noncentral t with ncp z sqrt(n).
    const double inner = noncentral_t_quantile(tail, n - 1.0, z * std::sqrt(n)) * se;
    const double outer = noncentral_t_quantile(1.0 - tail, n - 1.0, z * std::sqrt(n)) * se;
    out.lower_limit_interval = {bias - outer, bias - inner};
    out.upper_limit_interval = {bias + inner, bias + outer};
  } else {
    const double factor =
        options.method == LimitInterval::approximate_1986 ? 3.0 / n : 1.0 / n + z * z / (2.0 * (n - 1.0));
    const double half = t * sd * std::sqrt(factor);
    out.lower_limit_interval = {out.limits.lo - half, out.limits.lo + half};
    out.upper_limit_interval = {out.limits.hi - half, out.limits.hi + half};
  }
  return out;
}

std::optional<Agreement> limits_of_agreement_repeated(std::span<const double> first, std::span<const double> second,
                                                      std::span<const int> subject, const AgreementOptions& options) {
  multiplier_of(options);
  const auto groups = by_subject(check::differences("limits_of_agreement", first, second), subject);
  if (groups.size() < 2) {
    return std::nullopt;
  }
  std::vector<double> means;
  Within within;
  for (const auto& [label, values] : groups) {
    means.push_back(*mean(values));
    within.add(values);
  }
  const double n = static_cast<double>(means.size());
  const double between = *variance(means);
  const VariancePart parts[] = {{1.0, between, n - 1.0}, within.part()};
  return mover(n, *mean(means), between, parts, options);
}

std::optional<ProportionalBias> proportional_bias(std::span<const double> first, std::span<const double> second) {
  const auto d = check::differences("limits_of_agreement", first, second);
  std::vector<double> m(d.size());
  for (std::size_t i = 0; i < m.size(); ++i) {
    m[i] = second[i] + 0.5 * d[i];
  }
  if (d.size() < 3) {
    return std::nullopt;
  }
  const double n = static_cast<double>(d.size());
  const double mm = *variance(m) * (n - 1.0);
  if (!(mm > 0.0)) {
    return std::nullopt;
  }
  const double slope = *covariance(m, d) * (n - 1.0) / mm;
  const Wide mean_m = wide_mean(m);
  const Wide mean_d = wide_mean(d);
  double residual = 0.0;
  for (std::size_t i = 0; i < m.size(); ++i) {
    const double e = ((d[i] - mean_d.hi) - mean_d.lo) - slope * ((m[i] - mean_m.hi) - mean_m.lo);
    residual += e * e;
  }
  ProportionalBias out{slope, std::sqrt(residual / (n - 2.0) / mm), std::nullopt};
  if (out.se > 0.0) {
    out.p_two_sided = student_t_two_sided_p(slope / out.se, n - 2.0);
  }
  return out;
}

}  // namespace bagsplit::stats
