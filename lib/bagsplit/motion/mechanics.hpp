#pragma once

#include "bagsplit/motion/curve.hpp"

/// Horizontal force and power behind a sprint, from body mass and height.
///
///   symbol  meaning                              unit
///   m, h    body mass, standing height           kg, m
///   k       drag factor, 0.5 rho A Cd            kg/m
///
/// Force on the runner's centre of mass: F(v) = m (V - v)/tau + k v^2 in still air; power P(v) = F(v) v.
/// Source: Samozino et al. (2016), Scand J Med Sci Sports 26:648-658, doi:10.1111/sms.12490; drag after Arsac &
/// Locatelli (2002), J Appl Physiol 92:1781-1788, as given there: A = 0.2025 h^0.725 m^0.425 x 0.266, Cd = 0.9, rho
/// = 1.293 x 273/(273 + temperature) at sea level (constants from memory, unverified). The paper fits straight lines to
/// force and speed; here the maxima are those of the curve itself, so maximal power is a little above F0 V/4 where drag
/// is counted.
namespace bagsplit::motion {

struct Body {
  double mass_kg;   ///< > 0
  double height_m;  ///< > 0
  double temperature_c = 20.0;
};

/// k [kg/m].  @throws std::domain_error on a mass or height that is not above 0 and finite.
double drag_factor_kgpm(const Body& body);

/// Largest horizontal force, at first move [N]: m V/tau.
double max_force_n(const Sprint& sprint, const Body& body);

/// Largest horizontal power [W]: at the speed where dP/dv = 0.
double max_power_w(const Sprint& sprint, const Body& body);

}  // namespace bagsplit::motion
