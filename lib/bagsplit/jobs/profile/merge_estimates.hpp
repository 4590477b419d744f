#pragma once

#include <span>

#include "bagsplit/inference/posterior/posterior.hpp"

/// Estimates of one quantity under several values of what the squad shares, into one.
namespace bagsplit::jobs {

/// The distribution of an estimate rebuilt from its three quantiles, as a curve over the normal score z: median + a z +
/// b z^2 out to the outer quantiles, straight on from there; two straight lines where that would not rise.
class QuantileCurve {
 public:
  /// @param level  of the estimate's interval.
  QuantileCurve(const inference::Estimate& estimate, double level);
  double value_at(double z) const;  ///< the quantile at Phi(z)
  double z_of(double x) const;      ///< its inverse

 private:
  enum class Shape { line, bent, two_lines };
  double slope_up() const { return a_ + 2.0 * b_ * z0_; }
  double slope_down() const { return a_ - 2.0 * b_ * z0_; }

  double median_ = 0.0, up_ = 0.0, down_ = 0.0, sd_ = 0.0, z0_ = 1.0;
  double a_ = 0.0, b_ = 0.0;
  Shape shape_ = Shape::line;
};

/// Mixture of estimates: mean and SD exactly; quantiles by inverting the mixture of their distribution functions, each
/// as QuantileCurve rebuilds it.
/// Exact for one estimate, and for normal ones; within about 1% of an SD for the skewness met here.
/// @param weights  sum 1.   @param level  of the intervals, all the same.
/// share_from_data is the weighted mean where all have one.
inference::Estimate merge_estimates(std::span<const double> weights, std::span<const inference::Estimate> estimates,
                                    double level);

/// The level whose quantiles the middle is merged from, whatever level is asked for: rebuilt from other quantiles a
/// skewed distribution has another middle, and the median must not move with the level.
inline constexpr double median_level = 0.9;

/// Puts a median from median_level into an estimate; a very narrow interval grows so far as to hold it.
void set_median(inference::Estimate& estimate, double median);

/// As above, the median from the same estimates at median_level.
inference::Estimate merge_estimates(std::span<const double> weights, std::span<const inference::Estimate> estimates,
                                    double level, std::span<const inference::Estimate> at_median_level);

}  // namespace bagsplit::jobs
