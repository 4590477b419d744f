#pragma once

#include <cstddef>
#include <vector>

#include "bagsplit/motion/curve.hpp"

/// The lattice a player's posterior is summed on.
namespace bagsplit::inference {

/// Nodes of a rule with equal weights but for the density: the trapezoid rule. For a smooth density it converges faster
/// than any power of the spacing (Trefethen & Weideman 2014, SIAM Rev 56:385-458, doi:10.1137/130932132).
struct Lattice {
  double spacing = 1.0;  ///< between nodes, in steps of the frame
  double log_evidence = 0.0;
  double highest = 0.0;                 ///< log density at the highest node
  std::vector<motion::Sprint> sprints;  ///< one a node, as all that follows
  std::vector<double> weights;          ///< sum 1
  std::vector<double> log_density;      ///< less the highest
  std::vector<int> first, second;       ///< place, in nodes from the centre
  std::vector<double> means;            ///< of the terms, q a node
  std::vector<double> covariances;      ///< q x q a node
  bool at_edge = false;                 ///< it wanted to grow further than it may
  /// How far off every other node in both directions puts the mass: for a Gaussian, two SDs between nodes put it wrong
  /// by 2.9%, one SD by 1e-8; the error falls with the fourth power of this.
  double coarseness = 0.0;

  std::size_t size() const { return sprints.size(); }
};

inline constexpr int lattice_reach = 64;  ///< nodes to each side of the centre, at most
inline constexpr int lattice_width = 2 * lattice_reach + 1;

/// Where row or column k of the lattice lies, from 0 on.
constexpr std::size_t lattice_place(int k) {
  return static_cast<std::size_t>(k + lattice_reach);  // NOLINT(bugprone-misplaced-widening-cast): at most 128
}

}  // namespace bagsplit::inference
