#pragma once

#include <cmath>

/// The limit on what legs and ground allow at one instant. Internal to basepath; any one system of units.
namespace bagsplit::basepath::friction {

/// Either the point-mass limit, |a| <= radius, or the runner's ellipse: with a_t along and a_n across the velocity,
///   (a_t/P)^2 + (a_n/L)^2 <= 1 when gaining speed, P = (V - |v|)/tau,
///   (a_t/B)^2 + (a_n/L)^2 <= 1 when losing it.
/// With late slowing P may be negative. Then P+ = max(P, 0) takes its place in the first, and P - P+ is added to a_t in
/// both: lost whatever the runner does. The corner of P+ is rounded by `soft`.
struct Model {
  bool point_mass = true;
  double radius = 1.0;         ///< point mass: the limit on |a|
  double top_speed = 1.0;      ///< V
  double time_constant = 1.0;  ///< tau
  double lateral = 1.0;        ///< L
  double braking = 1.0;        ///< B
  double soft = 0.0;           ///< 0 where P is never negative

  /// The most that can be gained along the velocity, straight ahead.
  double propulsion(double speed) const { return point_mass ? radius : (top_speed - speed) / time_constant; }
  /// P+, its slope and its curvature in P.
  struct Push {
    double value, slope, curvature;
  };
  Push push(double speed) const {
    const double p = propulsion(speed);
    if (soft == 0.0) {
      return {p, 1.0, 0.0};
    }
    const double root = std::hypot(p, soft);
    const double rest = soft * soft / root;
    return {p > 0.0 ? 0.5 * (p + root) : 0.5 * rest * root / (root - p), 0.5 * (1.0 + p / root),
            0.5 * rest / (root * root)};
  }
  /// P - P+, at most 0.
  double drift(double speed) const { return soft == 0.0 ? 0.0 : propulsion(speed) - push(speed).value; }
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
  const double drift = m.drift(speed);
  return {m.push(speed).value * left + drift, m.most_braking() * left - drift};
}

/// The largest of weight_along a_t + weight_across a_n over what is allowed: the support function of the (half)
/// ellipses.
inline double support(const Model& m, double speed, double weight_along, double weight_across) {
  const double reach = weight_along >= 0.0 ? std::fmax(0.0, m.push(speed).value) : m.most_braking();
  return std::hypot(reach * weight_along, m.most_lateral() * weight_across) + weight_along * m.drift(speed);
}

}  // namespace bagsplit::basepath::friction
