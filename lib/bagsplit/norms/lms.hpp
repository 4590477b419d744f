#pragma once

#include <optional>

/// Reference curves by the LMS method: a Box-Cox power L, a median M and a coefficient of variation S.
///
///   X(z) = M (1 + L S z)^(1/L),  z(X) = ((X/M)^L - 1) / (L S);   at L = 0: X(z) = M exp(S z), z(X) = log(X/M) / S
///
/// z grows with the measured value. For times, where smaller is better, the caller turns the sign.
/// Source: Cole TJ, Green PJ (1992), Stat Med 11:1305-1319, doi:10.1002/sim.4780111005.
namespace bagsplit::norms {

struct Lms {
  double l = 1.0;  ///< power, any sign; 0 is the log-normal limit
  double m = 1.0;  ///< median, > 0, in the unit of the measurement
  double s = 0.1;  ///< coefficient of variation, > 0, dimensionless
};

/// z-score of a value. Written with expm1, so it keeps its digits as L -> 0.
/// @param value > 0, same unit as M.   @throws std::domain_error naming argument, value and bound.
/// Accuracy: 1e-10 against the published CDC tables' recomputation (lms_test).
double lms_z(const Lms& lms, double value);

/// Value at a z-score; nothing where 1 + L S z <= 0 (the curve does not reach that z).
std::optional<double> lms_value(const Lms& lms, double z);

/// Density of the value [1/unit], the derivative of Phi(z(value)). @param value > 0.
double lms_density(const Lms& lms, double value);

/// Linear interpolation of L, M and S each, at weight `w` in [0, 1] of `b` (common practice for published LMS tables).
Lms interpolate(const Lms& a, const Lms& b, double w);

/// Density of the standard normal distribution.
double normal_density(double z);

}  // namespace bagsplit::norms
