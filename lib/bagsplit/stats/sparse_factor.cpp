#include "bagsplit/stats/sparse_factor.hpp"

#include <algorithm>
#include <cmath>
#include <utility>

namespace bagsplit::stats::detail {

// Row k of L has an entry in column j if j can be reached from a column of row k of the matrix by climbing the
// elimination tree (Liu 1990, SIAM J Matrix Anal Appl 11:134-172). Two passes here: the tree with the column counts,
// then the pattern.
void SparseFactor::analyse(std::vector<int> row_start, std::vector<int> columns) {
  row_start_ = std::move(row_start);
  columns_ = std::move(columns);
  n_ = static_cast<int>(row_start_.size()) - 1;
  parent_.assign(at(n_), -1);
  mark_.assign(at(n_), -1);
  std::vector<int> count(at(n_), 0);
  for (int k = 0; k < n_; ++k) {
    mark_[at(k)] = k;
    for (int p = row_start_[at(k)]; p < row_start_[at(k + 1)]; ++p) {
      for (int j = columns_[at(p)]; mark_[at(j)] != k; j = parent_[at(j)]) {
        if (parent_[at(j)] < 0) {
          parent_[at(j)] = k;
        }
        ++count[at(j)];
        mark_[at(j)] = k;
      }
    }
  }
  column_start_.assign(at(n_ + 1), 0);
  for (int j = 0; j < n_; ++j) {
    column_start_[at(j + 1)] = column_start_[at(j)] + count[at(j)];
  }
  rows_.assign(at(column_start_[at(n_)]), 0);
  std::vector<int> next(column_start_.begin(), column_start_.end() - 1);
  std::fill(mark_.begin(), mark_.end(), -1);
  for (int k = 0; k < n_; ++k) {
    mark_[at(k)] = k;
    for (int p = row_start_[at(k)]; p < row_start_[at(k + 1)]; ++p) {
      for (int j = columns_[at(p)]; mark_[at(j)] != k; j = parent_[at(j)]) {
        rows_[at(next[at(j)]++)] = k;
        mark_[at(j)] = k;
      }
    }
  }
  lower_.assign(rows_.size(), 0.0);
  diagonal_.assign(at(n_), 0.0);
  inverse_lower_.assign(rows_.size(), 0.0);
  inverse_diagonal_.assign(at(n_), 0.0);
  work_.assign(at(n_), 0.0);
  pattern_.assign(at(n_), 0);
  filled_.assign(at(n_), 0);
}

bool SparseFactor::factor(const std::vector<double>& lower, const std::vector<double>& diagonal) {
  std::fill(filled_.begin(), filled_.end(), 0);
  std::fill(mark_.begin(), mark_.end(), -1);
  for (int k = 0; k < n_; ++k) {
    // The columns of row k in an order in which each comes after all that it depends on.
    int top = n_;
    mark_[at(k)] = k;
    for (int p = row_start_[at(k)]; p < row_start_[at(k + 1)]; ++p) {
      int j = columns_[at(p)];
      work_[at(j)] += lower[at(p)];
      int length = 0;
      for (; mark_[at(j)] != k; j = parent_[at(j)]) {
        pattern_[at(length++)] = j;
        mark_[at(j)] = k;
      }
      while (length > 0) {
        pattern_[at(--top)] = pattern_[at(--length)];
      }
    }
    double pivot = diagonal[at(k)];
    for (; top < n_; ++top) {
      const int j = pattern_[at(top)];
      const double y = work_[at(j)];
      work_[at(j)] = 0.0;
      const int begin = column_start_[at(j)];
      const int end = begin + filled_[at(j)];
      for (int p = begin; p < end; ++p) {
        work_[at(rows_[at(p)])] -= lower_[at(p)] * y;
      }
      const double l = y / diagonal_[at(j)];
      pivot -= l * y;
      lower_[at(end)] = l;
      ++filled_[at(j)];
    }
    if (!(pivot > 0.0) || !std::isfinite(pivot)) {
      std::fill(work_.begin(), work_.end(), 0.0);
      return false;
    }
    diagonal_[at(k)] = pivot;
  }
  return true;
}

double SparseFactor::log_determinant() const {
  // Products of many pivots would overflow; one log a few pivots is cheaper than one each.
  double total = 0.0;
  double product = 1.0;
  for (const double d : diagonal_) {
    product *= d;
    if (!(product < 1e200 && product > 1e-200)) {
      total += std::log(product / d) + std::log(d);
      product = 1.0;
    }
  }
  return total + std::log(product);
}

void SparseFactor::solve(double* x, int width) const {
  const std::size_t w = at(width);
  for (int j = 0; j < n_; ++j) {
    const double* source = x + at(j) * w;
    for (int p = column_start_[at(j)]; p < column_start_[at(j + 1)]; ++p) {
      double* target = x + at(rows_[at(p)]) * w;
      const double l = lower_[at(p)];
      for (std::size_t c = 0; c < w; ++c) {
        target[c] -= l * source[c];
      }
    }
  }
  for (int j = n_; j-- > 0;) {
    double* target = x + at(j) * w;
    const double inverse = 1.0 / diagonal_[at(j)];
    for (std::size_t c = 0; c < w; ++c) {
      target[c] *= inverse;
    }
    for (int p = column_start_[at(j)]; p < column_start_[at(j + 1)]; ++p) {
      const double* source = x + at(rows_[at(p)]) * w;
      const double l = lower_[at(p)];
      for (std::size_t c = 0; c < w; ++c) {
        target[c] -= l * source[c];
      }
    }
  }
}

// Z = A^-1 obeys Z = D^-1 L^-1 + (I - L') Z, so column j follows from later columns, and only entries in the pattern of
// L are needed (Takahashi, Fagan & Chin 1973; Erisman & Tinney 1975, Commun ACM 18:177-179).
void SparseFactor::invert_on_pattern() {
  std::fill(mark_.begin(), mark_.end(), -1);
  for (int j = n_; j-- > 0;) {
    const int begin = column_start_[at(j)];
    const int end = column_start_[at(j + 1)];
    for (int p = begin; p < end; ++p) {
      const int k = rows_[at(p)];
      mark_[at(k)] = p;
      work_[at(k)] = lower_[at(p)] * inverse_diagonal_[at(k)];
    }
    for (int p = begin; p < end; ++p) {
      const int k = rows_[at(p)];
      const double lk = lower_[at(p)];
      double sum = 0.0;
      for (int s = column_start_[at(k)]; s < column_start_[at(k + 1)]; ++s) {
        const int i = rows_[at(s)];
        const int where = mark_[at(i)];
        if (where >= 0) {
          const double z = inverse_lower_[at(s)];
          work_[at(i)] += lk * z;
          sum += lower_[at(where)] * z;
        }
      }
      work_[at(k)] += sum;
    }
    double diagonal = 1.0 / diagonal_[at(j)];
    for (int p = begin; p < end; ++p) {
      const int k = rows_[at(p)];
      inverse_lower_[at(p)] = -work_[at(k)];
      diagonal += lower_[at(p)] * work_[at(k)];
      work_[at(k)] = 0.0;
      mark_[at(k)] = -1;
    }
    inverse_diagonal_[at(j)] = diagonal;
  }
}

std::size_t SparseFactor::find(int i, int j) const {
  const auto begin = rows_.begin() + column_start_[at(j)];
  const auto end = rows_.begin() + column_start_[at(j + 1)];
  return static_cast<std::size_t>(std::lower_bound(begin, end, i) - rows_.begin());
}

}  // namespace bagsplit::stats::detail
