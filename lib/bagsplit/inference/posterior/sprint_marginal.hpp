#pragma once

#include <cstdint>
#include <span>
#include <vector>

#include "bagsplit/inference/posterior/lattice.hpp"

/// The distribution of a function of (V, tau) over a lattice: one-dimensional integrals along its rows or columns, the
/// density and the function interpolated between nodes.
namespace bagsplit::inference {

/// A lattice's rows (or its columns), the density along each at finer points.
class LatticeRows {
 public:
  LatticeRows() = default;
  /// @param along_first  rows of the first coordinate; else columns.
  LatticeRows(const Lattice& lattice, bool along_first);

 private:
  friend class SprintMarginal;

  struct Row {
    std::uint32_t first_node = 0;  // into nodes_
    std::uint32_t nodes = 0;
    double start = 0.0;            // coordinate of the first node along the row, in nodes
    std::uint32_t first_fine = 0;  // into the fine arrays
    std::uint32_t fine = 0;
  };

  void add_row(const Lattice& lattice, Row row);

  double step_ = 1.0;  // between fine points
  std::vector<Row> rows_;
  std::vector<std::uint32_t> nodes_;          // node index in row order
  std::vector<double> density_, cumulative_;  // fine points; cumulative mass from the row's start
};

/// Not longer than its rows.
class SprintMarginal {
 public:
  /// @param values  of the function, one a node.   Follows the rows that cross it most steeply.
  /// @throws std::invalid_argument
  SprintMarginal(const Lattice& lattice, const LatticeRows& along_first, const LatticeRows& along_second,
                 std::span<const double> values);

  double below(double x) const;  ///< P(value < x)
  /// Adds P(value < c) and the density there.
  void evaluate(double c, double& cdf, double& density) const;
  double lowest() const { return lowest_; }
  double highest() const { return highest_; }

 private:
  void follow(const LatticeRows::Row& row, std::span<const double> values, double slope, std::int8_t& direction);
  double cross(const LatticeRows::Row& row, std::uint32_t i, double c, double& density) const;

  const LatticeRows* rows_;
  std::vector<double> fine_, padded_;
  std::vector<std::int8_t> direction_;  // +1 rising, -1 falling, 0 neither; one a row
  double lowest_ = 0.0, highest_ = 0.0;
};

}  // namespace bagsplit::inference
