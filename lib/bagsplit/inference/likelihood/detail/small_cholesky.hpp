#pragma once

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <vector>

/// Small matrices, row-major n x n; stays inside the module. Factors are upper triangular (A = U' U) and every inner
/// loop runs along a row, so that it vectorises without changing the order of a sum.
namespace bagsplit::inference::small {

/// y[from..n) += a x[from..n).
inline void add_scaled(double* y, double a, const double* x, std::size_t from, std::size_t n) {
  for (std::size_t i = from; i < n; ++i) {
    y[i] += a * x[i];
  }
}

inline double dot(const double* a, const double* b, std::size_t n) {
  double s = 0.0;
  for (std::size_t i = 0; i < n; ++i) {
    s += a[i] * b[i];
  }
  return s;
}

/// Upper Cholesky factor in place; only the upper half is read. The matrices here are I plus a positive semidefinite
/// one.
inline void cholesky(double* a, std::size_t n) {
  for (std::size_t j = 0; j < n; ++j) {
    double* const row = a + j * n;
    const double root = std::sqrt(row[j]);
    const double inverse = 1.0 / root;
    row[j] = root;
    for (std::size_t i = j + 1; i < n; ++i) {
      row[i] *= inverse;
    }
    for (std::size_t i = j + 1; i < n; ++i) {
      add_scaled(a + i * n, -row[i], row, i, n);
    }
  }
}

/// x := U'^-1 x.
inline void forward(const double* u, std::size_t n, double* x) {
  for (std::size_t i = 0; i < n; ++i) {
    x[i] /= u[i * n + i];
    add_scaled(x, -x[i], u + i * n, i + 1, n);
  }
}

/// X := U'^-1 X, X of n rows with so many columns, row-major.
inline void forward_rows(const double* u, std::size_t n, double* x, std::size_t columns) {
  for (std::size_t i = 0; i < n; ++i) {
    double* const row = x + i * columns;
    const double inverse = 1.0 / u[i * n + i];
    for (std::size_t c = 0; c < columns; ++c) {
      row[c] *= inverse;
    }
    for (std::size_t r = i + 1; r < n; ++r) {
      add_scaled(x + r * columns, -u[i * n + r], row, 0, columns);
    }
  }
}

/// Rows of (U')^-1 from the factor, lower triangular.
inline void invert_factor(const double* u, std::size_t n, std::vector<double>& inverse) {
  std::fill(inverse.begin(), inverse.end(), 0.0);
  for (std::size_t i = 0; i < n; ++i) {
    inverse[i * n + i] = 1.0;
  }
  for (std::size_t i = 0; i < n; ++i) {
    double* const row = &inverse[i * n];
    const double pivot = 1.0 / u[i * n + i];
    for (std::size_t c = 0; c <= i; ++c) {
      row[c] *= pivot;
    }
    for (std::size_t r = i + 1; r < n; ++r) {
      add_scaled(&inverse[r * n], -u[i * n + r], row, 0, i + 1);
    }
  }
}

/// Replaces a positive definite matrix by its inverse.   @return the log of its determinant.
/// @throws std::domain_error where it is not positive definite.
double invert(std::vector<double>& a, std::size_t n);

/// Lower square root of a positive semidefinite matrix, by an LDL-like sweep that accepts zero variances.
std::vector<double> semidefinite_root(const std::vector<double>& a, std::size_t n);

}  // namespace bagsplit::inference::small
