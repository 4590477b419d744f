#pragma once

#include <optional>
#include <span>

#include "bagsplit/stats/interval.hpp"

/// Agreement of two methods (Bland & Altman): bias, limits of agreement, and how well the limits are known.
///
/// Assumes: differences near normal, with a spread that does not change with size (see `proportional_bias`).
/// Small samples: at n = 10 the exact interval of a limit spans about 1.4 SD, at n = 3 about 9 SD. Always show it.
/// Source: Bland & Altman (1986), Lancet 327:307-310, doi:10.1016/S0140-6736(86)90837-8; (1999), Stat Methods Med Res
/// 8:135-160; (2007), J Biopharm Stat 17:571-582; Carkeet (2015), Optom Vis Sci 92:e71-e80; Zou (2013), Stat Methods
/// Med Res 22:630-642.
namespace bagsplit::stats {

/// How the limits' own intervals are computed.
enum class LimitInterval {
  exact,             ///< noncentral t, exact for normal differences (Carkeet 2015); not symmetric about the limit
  approximate_1999,  ///< limit +/- t SD sqrt(1/n + z^2 / (2 (n - 1)))
  approximate_1986,  ///< limit +/- t SD sqrt(3/n)
};

struct AgreementOptions {
  double level = 0.95;     ///< confidence level of the intervals
  double coverage = 0.95;  ///< share of differences that the limits should hold; multiplier z = normal quantile
  std::optional<double> multiplier;  ///< instead of z, e.g. 2 as in the 1986 paper
  LimitInterval method = LimitInterval::exact;
};

struct Agreement {
  double n;     ///< differences (subjects, for repeated measurements)
  double bias;  ///< mean of first - second
  double sd;    ///< SD of the differences between single measurements
  double se_bias;
  Interval bias_interval;
  Interval limits;  ///< bias -/+ multiplier * sd
  Interval lower_limit_interval;
  Interval upper_limit_interval;
};

/// Bias and limits from one pair of measurements a subject.
/// @param first, second same size, pair by pair.  n < 2: none.  All differences equal: intervals of no width.
std::optional<Agreement> limits_of_agreement(std::span<const double> first, std::span<const double> second,
                                             const AgreementOptions& options = {});

/// Several pairs a subject, the true value free to change between pairs (runs of a player timed twice).
///
/// Bias: mean of the subjects' mean differences; variance of a single difference s_b^2 + (1 - 1/m_h) s_w^2, with s_b^2
/// the variance of subject means, s_w^2 the pooled variance within subjects, m_h the harmonic mean of the numbers of
/// pairs (unbiased for between + within). Intervals of the limits by MOVER (Zou 2013, with t in place of z for the
/// mean). Treating the pairs as independent would give limits too narrow in their uncertainty.
/// @param subject  labels, one a pair.  Fewer than 2 subjects: none. One pair a subject each: the MOVER interval of
/// independent pairs.  `options.method` is not used.
std::optional<Agreement> limits_of_agreement_repeated(std::span<const double> first, std::span<const double> second,
                                                      std::span<const int> subject,
                                                      const AgreementOptions& options = {});

/// Does the difference grow with the size of what is measured? Regression of difference on mean.
struct ProportionalBias {
  double slope;
  double se;
  std::optional<double> p_two_sided;  ///< n - 2 df; none when the points lie on a line
};
/// n < 3, or all means equal: none.
std::optional<ProportionalBias> proportional_bias(std::span<const double> first, std::span<const double> second);

}  // namespace bagsplit::stats
