#pragma once

#include <cstddef>
#include <cstdint>
#include <vector>

#include "bagsplit/inference/likelihood/detail/sprint_density.hpp"
#include "bagsplit/inference/posterior/detail/posterior_mode.hpp"
#include "bagsplit/inference/posterior/detail/sprint_coordinates.hpp"
#include "bagsplit/inference/posterior/lattice.hpp"

/// Where a posterior's lattice lies and how it grows; stays inside the module.
namespace bagsplit::inference {

/// Where a lattice lies: centred at a point, one step being one SD of the Gaussian thought to be there. Its first axis
/// moves log tau and with it log T*, its second log T* alone.
struct LatticeFrame {
  LatticeFrame(const SprintCoordinates& coordinates, const SprintCoordinates::Point& centre,
               const Curvature& curvature);

  /// z1 and z2 in steps.
  SprintCoordinates::Place place(double z1, double z2) const {
    return coordinates->place(centre_tau + unit_tau * root_uu * z1,
                              centre_time + unit_time * (root_wu * z1 + root_ww * z2));
  }
  /// Where a point in the units of the coordinates lies, in steps.
  struct Steps {
    double z1, z2;
  };
  Steps steps_of(const SprintCoordinates::Point& point) const;

  const SprintCoordinates* coordinates;
  SprintCoordinates::Point centre;
  double centre_tau = 0.0, centre_time = 0.0;
  double unit_tau = 1.0, unit_time = 1.0;
  double root_uu = 1.0, root_wu = 0.0, root_ww = 1.0;  ///< lower Cholesky factor of the inverse curvature
};

/// The lattice grows from nodes above exp(-log_cut) of the maximum, whose neighbours are kept too: with 8.5 it leaves
/// out 1e-5. Its rows and columns have no gaps, so that each can be integrated along.
class LatticeGrower {
 public:
  LatticeGrower(SprintDensity& density, const LatticeFrame& frame, double log_cut);

  /// Clears what was grown before; what it grew last is what `lattice` holds, or that is empty.
  void grow(double spacing, Lattice& lattice);
  /// Is a node nearest to this point part of what was grown last?
  bool holds(const SprintCoordinates::Point& point, const Lattice& lattice) const;

 private:
  void visit(int a, int b, Lattice& lattice);
  void flood(Lattice& lattice);
  void fill_gaps(Lattice& lattice);
  void weigh(Lattice& lattice) const;
  std::size_t slot(int a, int b) const { return lattice_place(b) * lattice_width + lattice_place(a); }

  SprintDensity& density_;
  const LatticeFrame& frame_;
  double log_cut_;
  std::vector<std::int16_t> node_at_;  // of each slot; -1 for none
};

}  // namespace bagsplit::inference
