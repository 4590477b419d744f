#pragma once

#include <optional>
#include <span>

#include "bagsplit/stats/interval.hpp"

/// Standardised mean differences with noncentral-t intervals.
///
/// Assumes normal groups of equal variance (two-sample) or normal differences (paired). d is biased away from 0 in
/// small samples; g = J d removes the bias. The interval turns the noncentral-t pivot round: exact under the
/// assumptions, at any n. No scatter, or too few values: none, for the ratio is not defined. Source: Hedges (1981), J
/// Educ Stat 6:107-128, doi:10.3102/10769986006002107; Cumming & Finch (2001), Educ Psychol Meas 61:532-574; Morris &
/// DeShon (2002), Psychol Methods 7:105-125, for the paired forms.
namespace bagsplit::stats {

/// Factor that removes the small-sample bias of d.
enum class SmallSampleFactor {
  exact,        ///< J(m) = Gamma(m/2) / (sqrt(m/2) Gamma((m-1)/2))
  approximate,  ///< 1 - 3 / (4 m - 1), within 0.0004 of it for m >= 10
};

/// J(m). @param df m > 1 for the exact factor (at m = 1 d has no mean), m >= 1 for the approximate one.
double small_sample_factor(double df, SmallSampleFactor kind = SmallSampleFactor::exact);

struct EffectSize {
  double d;  ///< difference / standard deviation
  double df;
  std::optional<double> g;             ///< J d; none for df <= 1
  std::optional<Interval> d_interval;  ///< none if the noncentral t cannot be inverted (|t| beyond about 1e3)
  std::optional<Interval> g_interval;  ///< J times the limits of d
};

/// Two groups: (mean(x) - mean(y)) / pooled SD. Empty group, fewer than 3 values in all, or no scatter: none.
std::optional<EffectSize> two_sample_effect(std::span<const double> x, std::span<const double> y, double level = 0.95,
                                            SmallSampleFactor factor = SmallSampleFactor::exact);

/// Paired: d_z = mean(x - y) / sd(x - y). Fewer than 2 pairs or no scatter: none.
std::optional<EffectSize> paired_effect(std::span<const double> x, std::span<const double> y, double level = 0.95,
                                        SmallSampleFactor factor = SmallSampleFactor::exact);

/// Paired, on the scale of the raw scores: mean(x - y) / sqrt((var x + var y)/2).
std::optional<double> paired_d_av(std::span<const double> x, std::span<const double> y);
/// Paired, on the scale of the raw scores through the correlation r: d_z sqrt(2 (1 - r)).
std::optional<double> paired_d_rm(std::span<const double> x, std::span<const double> y);

/// Two-sided interval of the noncentrality of an observed t: the ncp at which P(T <= t) is 1 - a/2 and a/2.
/// None where the noncentral t cannot be evaluated.  Cost: about 40 evaluations of the noncentral t, 20 us.
std::optional<Interval> noncentrality_interval(double t, double df, double level = 0.95);

}  // namespace bagsplit::stats
