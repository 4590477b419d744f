#pragma once

#include <cstddef>
#include <optional>

/// How many observations: for a power, for a precision, for a reliability, for a detectable change.
///
/// Assumes normal errors with the SD given. The SD is the weak point: planned from few data, take its upper limit.
/// Source: Cohen (1988), Statistical Power Analysis, 2nd ed.; noncentral t as in Johnson & Kotz; Spearman (1910), Br J
/// Psychol 3:271-295 and Brown (1910), 3:296-322; Weir (2005), J Strength Cond Res 19:231-240.
namespace bagsplit::stats {

enum class Design {
  two_sample,  ///< two groups of n each, sd that of a single value
  paired,      ///< n pairs (or one sample of n), sd that of the differences
};

/// Which rejections count as power of a two-sided test.
enum class Tails {
  both,  ///< exact: rejection on either side
  near,  ///< only on the side of the true difference; what many programs give by default
};

/// Power of the two-sided t test.
/// @param n at least 2 (may be fractional); @param delta true difference, any sign; @param sd > 0; @param alpha in (0,
/// 1).
double t_test_power(Design design, double n, double delta, double sd, double alpha = 0.05, Tails tails = Tails::both);

/// Smallest whole n (per group, or pairs) with at least this power. None beyond a million, or for delta = 0 unless
/// power <= alpha.
std::optional<std::size_t> t_test_sample_size(Design design, double delta, double sd, double power,
                                              double alpha = 0.05);

/// The n at which the power is exactly this; at least 2.
std::optional<double> t_test_fractional_size(Design design, double delta, double sd, double power, double alpha = 0.05,
                                             Tails tails = Tails::both);

/// Half-width of the t interval of a mean of n values with standard deviation sd. @param n at least 2.
double t_half_width(std::size_t n, double sd, double level = 0.95);
/// Smallest n with t_half_width <= half_width. None beyond a million.
std::optional<std::size_t> size_for_half_width(double half_width, double sd, double level = 0.95);

/// Trials to average for a reliability (Spearman-Brown): target (1 - icc) / (icc (1 - target)), fractional.
/// @param icc_single, target in (0, 1).
double trials_for_icc(double icc_single, double target);
/// Trials to average in each of two sessions so that the minimal detectable change falls to `change`: (z sqrt(2)
/// sem/change)^2. Fractional.  Assumes error independent between trials; what is constant within a session does not
/// average out.
double trials_for_detectable_change(double sem, double change, double level = 0.95);
/// A fractional number of trials rounded up, 3.0000000001 counting as 3; at least 1.
std::size_t whole_trials(double trials);

}  // namespace bagsplit::stats
