#include "bagsplit/stats/detail/sparse_factor.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <numeric>
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
  std::fill(mark_.begin(), mark_.end(), -1);
  index_rows();
  index_narrow_columns();
  lower_.assign(rows_.size(), 0.0);
  diagonal_.assign(at(n_), 0.0);
  pivot_inverse_.assign(at(n_), 0.0);
  inverse_lower_.assign(rows_.size(), 0.0);
  inverse_diagonal_.assign(at(n_), 0.0);
  work_.assign(at(n_), 0.0);
}

// The columns of a row in ascending order are an order in which each comes after all that it depends on.
void SparseFactor::index_rows() {
  row_begin_.assign(at(n_ + 1), 0);
  for (const int row : rows_) {
    ++row_begin_[at(row + 1)];
  }
  std::partial_sum(row_begin_.begin(), row_begin_.end(), row_begin_.begin());
  row_entries_.resize(rows_.size());
  std::vector<int> next(row_begin_.begin(), row_begin_.end() - 1);
  for (int j = 0; j < n_; ++j) {
    for (int p = column_start_[at(j)]; p < column_start_[at(j + 1)]; ++p) {
      row_entries_[at(next[at(rows_[at(p)])]++)] = {j, p};
    }
  }
}

// Rows that meet in a column meet in a later one, so each pair of them has an entry; those of narrow columns are found
// once and for all. Of wide columns they are too many to keep, and going through the later columns wastes little.
void SparseFactor::index_narrow_columns() {
  narrow_.clear();
  for (int j = 0; j < n_; ++j) {
    const int begin = column_start_[at(j)];
    const int end = column_start_[at(j + 1)];
    for (int s = begin; is_narrow(j) && s < end; ++s) {
      for (int t = begin; t < s; ++t) {
        narrow_.push_back(static_cast<int>(find(rows_[at(s)], rows_[at(t)])));
      }
    }
  }
}

bool SparseFactor::factor(const std::vector<double>& lower, const std::vector<double>& diagonal) {
  for (int k = 0; k < n_; ++k) {
    for (int p = row_start_[at(k)]; p < row_start_[at(k + 1)]; ++p) {
      work_[at(columns_[at(p)])] += lower[at(p)];
    }
    double pivot = diagonal[at(k)];
    for (int q = row_begin_[at(k)]; q < row_begin_[at(k + 1)]; ++q) {
      const Entry entry = row_entries_[at(q)];
      const double y = work_[at(entry.column)];
      work_[at(entry.column)] = 0.0;
      for (int p = column_start_[at(entry.column)]; p < entry.slot; ++p) {
        work_[at(rows_[at(p)])] -= lower_[at(p)] * y;
      }
      const double l = y * pivot_inverse_[at(entry.column)];
      pivot -= l * y;
      lower_[at(entry.slot)] = l;
    }
    if (!(pivot > 0.0) || !std::isfinite(pivot)) {
      std::fill(work_.begin(), work_.end(), 0.0);
      return false;
    }
    diagonal_[at(k)] = pivot;
    pivot_inverse_[at(k)] = 1.0 / pivot;
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

/// Width known to the compiler where it is small, since loops over one or two numbers cost more than what they do.
template <std::size_t Width>
void SparseFactor::solve_rows(double* x, std::size_t width) const {
  const std::size_t w = Width > 0 ? Width : width;
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
    const double inverse = pivot_inverse_[at(j)];
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

void SparseFactor::solve(double* x, int width) const {
  switch (width) {
    case 1:
      return solve_rows<1>(x, 1);
    case 2:
      return solve_rows<2>(x, 2);
    case 3:
      return solve_rows<3>(x, 3);
    default:
      return solve_rows<0>(x, at(width));
  }
}

// Z = A^-1 obeys Z = D^-1 L^-1 + (I - L') Z, so column j follows from later columns, and only entries in the pattern of
// L are needed (Takahashi, Fagan & Chin 1973; Erisman & Tinney 1975, Commun ACM 18:177-179).
void SparseFactor::invert_on_pattern() {
  std::size_t narrow = narrow_.size();
  for (int j = n_; j-- > 0;) {
    if (is_narrow(j)) {
      const std::size_t width = at(column_start_[at(j + 1)] - column_start_[at(j)]);
      narrow -= width * (width - 1) / 2;
      invert_narrow_column(j, narrow_.data() + narrow);
    } else {
      invert_wide_column(j);
    }
  }
}

void SparseFactor::invert_narrow_column(int j, const int* slots) {
  const int begin = column_start_[at(j)];
  const int width = column_start_[at(j + 1)] - begin;
  const double* l = lower_.data() + begin;
  std::array<double, widest_narrow> sum{};
  for (int s = 0; s < width; ++s) {
    sum[at(s)] = l[s] * inverse_diagonal_[at(rows_[at(begin + s)])];
    for (int t = 0; t < s; ++t) {
      const double z = inverse_lower_[at(*slots++)];
      sum[at(s)] += l[t] * z;
      sum[at(t)] += l[s] * z;
    }
  }
  double diagonal = pivot_inverse_[at(j)];
  for (int s = 0; s < width; ++s) {
    inverse_lower_[at(begin + s)] = -sum[at(s)];
    diagonal += l[s] * sum[at(s)];
  }
  inverse_diagonal_[at(j)] = diagonal;
}

void SparseFactor::invert_wide_column(int j) {
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
  double diagonal = pivot_inverse_[at(j)];
  for (int p = begin; p < end; ++p) {
    const int k = rows_[at(p)];
    inverse_lower_[at(p)] = -work_[at(k)];
    diagonal += lower_[at(p)] * work_[at(k)];
    work_[at(k)] = 0.0;
    mark_[at(k)] = -1;
  }
  inverse_diagonal_[at(j)] = diagonal;
}

std::size_t SparseFactor::find(int i, int j) const {
  const auto begin = rows_.begin() + column_start_[at(j)];
  const auto end = rows_.begin() + column_start_[at(j + 1)];
  return static_cast<std::size_t>(std::lower_bound(begin, end, i) - rows_.begin());
}

}  // namespace bagsplit::stats::detail
