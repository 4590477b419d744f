#include "bagsplit/inference/season/sprint.hpp"

#include <cmath>

namespace bagsplit::season {

double moving_time_s(double distance_m, double top_speed_mps, double time_constant_s) {
  // The distance run is convex in time, so Newton's steps from above stay above.
  const double tau = time_constant_s;
  double t = distance_m / top_speed_mps + tau;
  for (int i = 0; i < 60; ++i) {
    const double step = (t + tau * std::expm1(-t / tau) - distance_m / top_speed_mps) / -std::expm1(-t / tau);
    t -= step;
    if (std::fabs(step) < 1e-14 * t) {
      break;
    }
  }
  return t;
}

CourseResponse course_response(double distance_m, double turns_s, double top_speed_mps, double time_constant_s) {
  const double tau = time_constant_s;
  const double t = moving_time_s(distance_m, top_speed_mps, tau);
  const double e = std::exp(-t / tau);
  const double v = top_speed_mps * (1.0 - e);
  const double total = t + turns_s;
  const double acceleration = top_speed_mps * tau * (1.0 - e - t / tau * e) / (v * total);
  return {.top_speed = distance_m / (v * total) - acceleration, .first_acceleration = acceleration};
}

double drag_per_m(double height_m, double mass_kg, double scale) {
  constexpr double air_density = 1.204;     // kg/m^3 at 20 C
  constexpr double drag_coefficient = 0.9;  // Arsac & Locatelli (2002), with the frontal share of body surface
  const double area_m2 = 0.266 * 0.2025 * std::pow(height_m, 0.725) * std::pow(mass_kg, 0.425);
  return scale * 0.5 * air_density * drag_coefficient * area_m2 / mass_kg;
}

double wind_change_s(double wind_mps, double distance_m, double top_speed_mps, double time_constant_s,
                     double drag_per_m, bool loop) {
  const double w = wind_mps;
  const double speed = top_speed_mps;
  const double tau = time_constant_s;
  const double t = moving_time_s(distance_m, speed, tau);
  const double e = std::exp(-t / tau);
  const double linear =
      (2.0 * speed * tau * (t - tau * (1.0 - e)) - 2.0 * speed * (tau * tau * (1.0 - e) - tau * t * e)) * w;
  const double square = -w * w * tau * (t - tau * (1.0 - e));
  return -drag_per_m * (loop ? 0.5 * square : linear + square) / (speed * (1.0 - e));
}

}  // namespace bagsplit::season
