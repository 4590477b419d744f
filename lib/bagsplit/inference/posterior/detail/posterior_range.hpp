#pragma once

#include "bagsplit/inference/likelihood/detail/sprint_density.hpp"
#include "bagsplit/inference/posterior/detail/lattice_growth.hpp"

/// Whether a lattice reaches as far as the posterior does; stays inside the module.
namespace bagsplit::inference {

/// A lattice grows from node to node, so a ridge that turns, or becomes narrower than the nodes are apart, is cut where
/// no node lies on it; what is left may look smooth. This follows the ridge by itself, without the lattice: from the
/// centre outwards over log tau, at each the highest point over log T*, until the density has fallen by exp(-log_cut).
/// @return whether the lattice has a node beside every point of it that is above the cut, and the ridge came to an end.
bool reaches_all(SprintDensity& density, const LatticeFrame& frame, const LatticeGrower& grown, const Lattice& lattice,
                 double log_cut);

}  // namespace bagsplit::inference
