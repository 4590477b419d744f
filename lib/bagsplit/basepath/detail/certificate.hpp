#pragma once

#include "bagsplit/basepath/detail/discretised.hpp"

/// An independent look at a path: does it keep the limits everywhere, and does it meet Pontryagin's conditions?
/// Internal to basepath; dimensionless, as discretised.hpp.
namespace bagsplit::basepath::certificate {

/// What was found. Costs are in the unit of time: to first order, what removing the fault could change in the total.
///
/// Of the solver's answer only the path and the pull of each leg are used. The costates of heading and speed are
/// integrated backwards from the end (0 where the runner runs through) along the path,
///   q_theta' = -u p.n(theta),   q_u' = -p.e(theta) + q_theta omega/u + q_u alpha/tau   (last term when gaining speed),
/// with e, n the unit vectors along and across, p the pull, alpha the share of propulsion used, by Runge and Kutta's
/// method on a grid 16 times finer than the path's; H = p.e u + q_theta omega + q_u a must be 1, its greatest value
/// over what is allowed.
struct Findings {
  double optimality_cost =
      0.0;  ///< integral of (largest H allowed - H), where positive: what better use of the limits would win
  double violation_cost = 0.0;  ///< integral of (weight x excess) where the path leaves the limits between Gauss points
  double displacement_cost = 0.0;  ///< sum of |pull| x distance by which legs miss their ends
  double bound_cost = 0.0;         ///< sum of multiplier x room left at half-planes, and of multiplier x how far over
  double hamiltonian_drift = 0.0;  ///< mean of |H - 1| over the time
  double start_costate = 0.0;   ///< |q_theta| at a start at rest, where it must be 0 (time per radian of first heading)
  double largest_excess = 0.0;  ///< largest acceleration beyond the limits, in the unit of acceleration
  double largest_miss = 0.0;    ///< largest distance by which a leg misses its end

  double cost() const { return optimality_cost + violation_cost + displacement_cost + bound_cost; }
};

/// Cost: about 1 microsecond an interval.
Findings examine(const discretised::Problem& problem, const discretised::Path& path);

}  // namespace bagsplit::basepath::certificate
