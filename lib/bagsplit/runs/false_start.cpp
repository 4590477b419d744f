#include "bagsplit/runs/false_start.hpp"

#include <cmath>
#include <stdexcept>

namespace bagsplit::runs {

double least_reaction_s(Device device, double press_error_sd_s) {
  if (!(press_error_sd_s >= 0.0) || !std::isfinite(press_error_sd_s)) {
    throw std::domain_error("least_reaction_s: press_error_sd_s must be finite and at least 0");
  }
  return false_start_threshold_s - (device == Device::stopwatch ? hand_false_start_z * press_error_sd_s : 0.0);
}

bool is_false_start(double reaction_s, Device device, double press_error_sd_s) {
  if (!std::isfinite(reaction_s)) {
    throw std::domain_error("is_false_start: reaction_s must be finite");
  }
  return reaction_s < least_reaction_s(device, press_error_sd_s);
}

}  // namespace bagsplit::runs
