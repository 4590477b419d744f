#include "bagsplit/inference/likelihood/detail/small_cholesky.hpp"

#include <stdexcept>
#include <utility>

namespace bagsplit::inference::small {

double invert(std::vector<double>& a, std::size_t n) {
  std::vector<double> factor = a;
  cholesky(factor.data(), n);
  double log_det = 0.0;
  for (std::size_t i = 0; i < n; ++i) {
    log_det += 2.0 * std::log(factor[i * n + i]);
  }
  if (!std::isfinite(log_det)) {
    throw std::domain_error("player data: term_correlation is not positive definite");
  }
  invert_factor(factor.data(), n, a);
  // a = U'^-1; the inverse is a' a.
  std::vector<double> inverse(n * n, 0.0);
  for (std::size_t i = 0; i < n; ++i) {
    for (std::size_t r = 0; r < n; ++r) {
      add_scaled(&inverse[r * n], a[i * n + r], &a[i * n], 0, n);
    }
  }
  a = std::move(inverse);
  return log_det;
}

std::vector<double> semidefinite_root(const std::vector<double>& a, std::size_t n) {
  std::vector<double> root(n * n, 0.0);
  for (std::size_t j = 0; j < n; ++j) {
    double d = a[j * n + j] - dot(&root[j * n], &root[j * n], j);
    d = d > 1e-14 * (a[j * n + j] + 1e-300) ? std::sqrt(d) : 0.0;
    root[j * n + j] = d;
    for (std::size_t i = j + 1; i < n && d > 0.0; ++i) {
      root[i * n + j] = (a[i * n + j] - dot(&root[i * n], &root[j * n], j)) / d;
    }
  }
  return root;
}

}  // namespace bagsplit::inference::small
