// Factorisation of a sparse symmetric positive definite matrix whose pattern stays the same while its values change:
// the inside of mixed_model. Not installed.
#pragma once

#include <vector>

namespace bagsplit::stats::detail {

/// L D L' of a matrix given by rows of its strict lower triangle and its diagonal, in an order chosen by the caller.
class SparseFactor {
 public:
  /// Fixes the pattern. Row i holds the columns `columns[row_start[i]] .. columns[row_start[i+1]-1]`, all below i.
  void analyse(std::vector<int> row_start, std::vector<int> columns);

  /// Factors values in that pattern. False if a pivot is not positive (or not a number).
  bool factor(const std::vector<double>& lower, const std::vector<double>& diagonal);

  double log_determinant() const;
  /// Solves in place for `width` right sides stored row by row (row i at x + i * width).
  void solve(double* x, int width) const;

  /// The entries of the inverse on the pattern of L (Takahashi's recursion); call after factor().
  void invert_on_pattern();
  /// An entry of the inverse, i >= j; it must lie in the pattern of L.
  double inverse(int i, int j) const { return i == j ? inverse_diagonal_[at(i)] : inverse_lower_[find(i, j)]; }
  /// Where entry (i, j), i > j, lies in the inverse; fixed once analysed, so look it up once.
  std::size_t find(int i, int j) const;
  double inverse_at(std::size_t slot) const { return inverse_lower_[slot]; }
  double inverse_diagonal(int i) const { return inverse_diagonal_[at(i)]; }

  int size() const { return n_; }
  std::size_t entries() const { return rows_.size(); }

 private:
  static std::size_t at(int i) { return static_cast<std::size_t>(i); }

  struct Entry {  // of a row of L
    int column, slot;
  };
  static constexpr int widest_narrow = 8;
  bool is_narrow(int j) const { return column_start_[at(j + 1)] - column_start_[at(j)] <= widest_narrow; }
  void index_rows();
  void index_narrow_columns();
  void invert_narrow_column(int j, const int* slots);
  void invert_wide_column(int j);
  template <std::size_t Width>
  void solve_rows(double* x, std::size_t width) const;

  int n_ = 0;
  std::vector<int> row_start_, columns_;  // of the matrix
  std::vector<int> parent_;               // elimination tree
  std::vector<int> column_start_, rows_;  // of L, by columns, rows ascending
  std::vector<int> row_begin_;            // of L, by rows, columns ascending
  std::vector<Entry> row_entries_;
  std::vector<int> narrow_;               // of the inverse: entries of the pairs of rows of narrow columns
  std::vector<double> lower_, diagonal_;  // of L and D
  std::vector<double> pivot_inverse_;     // 1 / D
  std::vector<double> inverse_lower_, inverse_diagonal_;
  mutable std::vector<double> work_;
  std::vector<int> mark_;
};

}  // namespace bagsplit::stats::detail
