#pragma once

#include <cmath>

/// The limit on what legs and ground allow at one instant. Internal to basepath; any one system of units.
namespace bagsplit::basepath::friction {

/// Either the point-mass limit, |a| <= radius, or the runner's ellipse: with a_t along and a_n across the velocity,
///   (a_t/P)^2 + (a_n/L)^2 <= 1 when gaining speed, P = (V - |v|)/tau,
///   (a_t/B)^2 + (a_n/L)^2 <= 1 when losing it.
struct Model {
  bool point_mass = true;
  double radius = 1.0;         ///< point mass: the limit on |a|
  double top_speed = 1.0;      ///< V
  double time_constant = 1.0;  ///< tau
  double lateral = 1.0;        ///< L
  double braking = 1.0;        ///< B

  /// The most that can be gained along the velocity, straight ahead.
  double propulsion(double speed) const { return point_mass ? radius : (top_speed - speed) / time_constant; }
  double most_braking() const { return point_mass ? radius : braking; }
  double most_lateral() const { return point_mass ? radius : lateral; }
};

/// What is left along the velocity while `across` is used for turning: gaining and losing speed. 0 where turning takes
/// more than there is.
struct Room {
  double gaining;
  double losing;
};
inline Room room_along(const Model& m, double speed, double across) {
  const double share = across / m.most_lateral();
  const double left = std::sqrt(std::fmax(0.0, 1.0 - share * share));
  return {m.propulsion(speed) * left, m.most_braking() * left};
}

/// The largest of weight_along a_t + weight_across a_n over what is allowed: the support function of the (half)
/// ellipses.
inline double support(const Model& m, double speed, double weight_along, double weight_across) {
  const double reach = weight_along >= 0.0 ? std::fmax(0.0, m.propulsion(speed)) : m.most_braking();
  return std::hypot(reach * weight_along, m.most_lateral() * weight_across);
}

}  // namespace bagsplit::basepath::friction
