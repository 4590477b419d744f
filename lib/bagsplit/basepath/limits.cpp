#include "bagsplit/basepath/limits.hpp"

#include <algorithm>
#include <cmath>
#include <sstream>
#include <stdexcept>

#include "bagsplit/stats/detail/check.hpp"

namespace bagsplit::basepath {

namespace {

void check_range(const char* what, double value, double low, double high) {
  if (!(value >= low && value <= high)) {
    std::ostringstream text;
    text << "basepath limits: " << what << " is " << value << ", but must be from " << low << " to " << high;
    throw std::domain_error(text.str());
  }
}

}  // namespace

RangedDefault default_lateral_mps2() {
  return {4.0, 2.5, 6.0,
          "adult bends: Diaz et al. 2024, J Exp Biol 227:jeb246649; Imawaka et al. 2025; children not measured"};
}

RangedDefault default_braking_mps2() {
  return {3.0, 2.2, 4.5, "children 6-10 stopping on a signal, 2.24 to 3.19: preprint 10.20944/preprints202503.1984.v1"};
}

void check(const Limits& limits) {
  if (const auto* runner = std::get_if<RunnerLimits>(&limits)) {
    check_range("top_speed_mps", runner->top_speed_mps, 0.5, 15.0);
    check_range("time_constant_s", runner->time_constant_s, 0.05, 10.0);
    check_range("lateral_mps2", runner->lateral_mps2, 0.2, 100.0);
    check_range("braking_mps2", runner->braking_mps2, 0.2, 100.0);
    check_range("late_slowing_per_s", runner->late_slowing_per_s, 0.0, 0.225 / runner->time_constant_s);
  } else {
    check_range("acceleration_mps2", std::get<PointMassLimit>(limits).acceleration_mps2, 0.01, 1000.0);
  }
}

double steady_bend_speed_mps(const Limits& limits, double radius_m) {
  check(limits);
  stats::check::positive("steady_bend_speed_mps", "radius_m", radius_m);
  if (const auto* runner = std::get_if<RunnerLimits>(&limits)) {
    return std::min(runner->top_speed_mps, std::sqrt(runner->lateral_mps2 * radius_m));
  }
  return std::sqrt(std::get<PointMassLimit>(limits).acceleration_mps2 * radius_m);
}

}  // namespace bagsplit::basepath
