#include "bagsplit/motion/mechanics.hpp"

#include <cmath>
#include <sstream>
#include <stdexcept>

namespace bagsplit::motion {

namespace {

void check(const char* what, double value) {
  if (!(value > 0.0) || !std::isfinite(value)) {
    std::ostringstream text;
    text << "body: " << what << " is " << value << ", but must be finite and above 0";
    throw std::domain_error(text.str());
  }
}

}  // namespace

double drag_factor_kgpm(const Body& body) {
  check("mass_kg", body.mass_kg);
  check("height_m", body.height_m);
  const double density = 1.293 * 273.0 / (273.0 + body.temperature_c);
  const double area = 0.2025 * std::pow(body.height_m, 0.725) * std::pow(body.mass_kg, 0.425) * 0.266;
  return 0.5 * density * area * 0.9;
}

double max_force_n(const Sprint& sprint, const Body& body) {
  check("mass_kg", body.mass_kg);
  return body.mass_kg * sprint.max_acceleration_mps2();
}

double max_power_w(const Sprint& sprint, const Body& body) {
  // dP/dv = m V/tau - 2 m v/tau + 3 k v^2 = 0, the smaller root; written so that k -> 0 gives V/2.
  const double k = drag_factor_kgpm(body);
  const double b = body.mass_kg / sprint.time_constant_s;
  const double v = sprint.top_speed_mps;
  const double discriminant = b * b - 3.0 * k * b * v;
  const double at = discriminant > 0.0 ? b * v / (b + std::sqrt(discriminant)) : v;
  return (b * (v - at) + k * at * at) * at;
}

}  // namespace bagsplit::motion
