#pragma once

#include <optional>

#include "bagsplit/inference/likelihood/detail/sprint_density.hpp"
#include "bagsplit/inference/posterior/detail/sprint_coordinates.hpp"

/// Where a player's posterior is highest, and how it bends there; stays inside the module.
namespace bagsplit::inference {

/// Second derivatives of minus the log density by (u, w) of SprintCoordinates; positive definite.
struct Curvature {
  double uu = 1.0, uw = 0.0, ww = 1.0;

  double determinant() const { return uu * ww - uw * uw; }
};

struct PosteriorMode {
  SprintCoordinates::Point point{};
  Curvature curvature;
  double log_density = 0.0;  ///< in (u, w), the unit left out
};

/// Damped Newton steps with finite differences, from the prior's middle or `near`; where they lead nowhere, grids that
/// close in on the highest point and steps from there.
PosteriorMode find_mode(SprintDensity& density, const SprintCoordinates& coordinates,
                        std::optional<motion::Sprint> near);

}  // namespace bagsplit::inference
