#pragma once

#include <cstddef>
#include <optional>
#include <span>

/// Mean, spread and lag-1 autocorrelation with all the digits the data hold.
///
/// Sums are exact to about 32 digits (double-double), deviations are taken from a mean carried with its rounding error:
/// a huge common offset costs nothing beyond what the numbers themselves lost when they were written as doubles.
/// All functions: O(n), no allocation. @throws std::domain_error naming the index of a NaN or infinite element.
/// Source: Neumaier (1974), Z Angew Math Mech 54:39-51; Chan, Golub & LeVeque (1983), Am Stat 37:242-247.
namespace bagsplit::stats {

/// A number with its rounding error: value = hi + lo, |lo| <= ulp(hi)/2.
struct Wide {
  double hi = 0.0;
  double lo = 0.0;
};

/// Sum with its rounding error. Empty: 0.
Wide wide_sum(std::span<const double> values);
/// Mean with its rounding error. @throws std::invalid_argument when empty.
Wide wide_mean(std::span<const double> values);

double sum(std::span<const double> values);
/// Sum of squared deviations from `mean` (given with its rounding error). 0 for one element; exact 0 when all are
/// equal.
double sum_of_squares_about(std::span<const double> values, Wide mean);

/// Arithmetic mean. n = 0: none.
std::optional<double> mean(std::span<const double> values);
/// Unbiased variance, divisor n - 1. n < 2: none; all equal: 0.
std::optional<double> variance(std::span<const double> values);
/// Square root of `variance` (biased low in small samples: at n = 3 by 11% for normal data). n < 2: none.
std::optional<double> standard_deviation(std::span<const double> values);
/// Third standardised moment m3 / m2^1.5 with divisors n (g1 of Joanes & Gill 1998). n < 3 or all equal: none.
std::optional<double> skewness(std::span<const double> values);
/// Covariance, divisor n - 1. @param x, y the same size. n < 2: none.
std::optional<double> covariance(std::span<const double> x, std::span<const double> y);
/// Pearson's correlation, within [-1, 1]. n < 2, or either all equal: none. n = 2 gives -1 or 1.
std::optional<double> correlation(std::span<const double> x, std::span<const double> y);

}  // namespace bagsplit::stats
