// Which entries of two sequences belong together: a pair hidden Markov model, summed exactly. Not installed.
#pragma once

#include <algorithm>
#include <cstddef>
#include <vector>

namespace bagsplit::record::detail {

/// A matrix of which only the cells near the diagonal are kept: |i - j| <= half. The others are 0.
class BandTable {
 public:
  BandTable(std::size_t rows, std::size_t columns, std::size_t half)
      : rows_(rows), columns_(columns), half_(half), cells_(rows * (2 * half + 1), 0.0) {}

  std::size_t rows() const { return rows_; }
  std::size_t columns() const { return columns_; }
  std::size_t half() const { return half_; }
  /// Columns kept of a row: from begin(i) up to, not with, end(i).
  std::size_t begin(std::size_t i) const { return i > half_ ? i - half_ : 0; }
  std::size_t end(std::size_t i) const { return std::min(columns_, i + half_ + 1); }
  bool has(std::size_t i, std::size_t j) const { return i < rows_ && j >= begin(i) && j < end(i); }
  double get(std::size_t i, std::size_t j) const { return has(i, j) ? cells_[at(i, j)] : 0.0; }
  double& cell(std::size_t i, std::size_t j) { return cells_[at(i, j)]; }

 private:
  std::size_t at(std::size_t i, std::size_t j) const { return i * (2 * half_ + 1) + (j + half_ - i); }

  std::size_t rows_, columns_, half_;
  std::vector<double> cells_;
};

/// How a recorder goes wrong. Assumed, no source: of evenings nobody has counted them; a factor of 3 either way changes
/// little (tests/record/same_runs_test.cpp).
struct PairMoves {
  double miss = 0.03;   ///< a run is missed
  double again = 0.30;  ///< and the next one too
  double swap = 0.005;  ///< two neighbours are typed in the other order
};

/// P that row i and column j are one run, given how much likelier each pair is as one run than as two (log odds).
///
/// States: both have the run, only the rows' side has it, only the columns' side; and a block of two neighbours typed
/// in the other order. Method: forward-backward for pair hidden Markov models (Durbin, Eddy, Krogh & Mitchison 1998,
/// Biological Sequence Analysis, ch. 4). @param log_odds within +-60.  @param log_total  the log of the sum over all
/// alignments, where asked for. Cost: O(cells kept).
BandTable pair_chances(const BandTable& log_odds, const PairMoves& moves, double* log_total = nullptr);

}  // namespace bagsplit::record::detail
