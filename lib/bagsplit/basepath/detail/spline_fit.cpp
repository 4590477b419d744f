#include "bagsplit/basepath/detail/spline_fit.hpp"

#include <Eigen/Dense>
#include <stdexcept>

namespace bagsplit::basepath::spline_fit {

namespace {

// Rows: not-a-knot at the left, (c[k] + 4 c[k+1] + c[k+2])/6 = value k, not-a-knot at the right. The third derivative
// of a cell is the third difference of its coefficients, so its jump is the fourth difference.
Eigen::MatrixXd matrix(Eigen::Index n) {
  Eigen::MatrixXd m = Eigen::MatrixXd::Zero(n + 2, n + 2);
  const double jump[5] = {1.0, -4.0, 6.0, -4.0, 1.0};
  for (Eigen::Index k = 0; k < 5; ++k) {
    m(0, k) = jump[k];
    m(n + 1, n - 3 + k) = jump[k];
  }
  for (Eigen::Index k = 0; k < n; ++k) {
    m(k + 1, k) = 1.0 / 6.0;
    m(k + 1, k + 1) = 4.0 / 6.0;
    m(k + 1, k + 2) = 1.0 / 6.0;
  }
  return m;
}

}  // namespace

std::vector<double> tensor(const std::vector<double>& values, std::size_t nx, std::size_t ny) {
  if (nx < 5 || ny < 5 || values.size() != nx * ny) {
    throw std::invalid_argument(
        "spline_fit::tensor: needs at least 5 nodes in each direction and as many values as nodes");
  }
  const auto rows = static_cast<Eigen::Index>(nx);
  const auto columns = static_cast<Eigen::Index>(ny);
  Eigen::MatrixXd padded = Eigen::MatrixXd::Zero(rows + 2, columns + 2);
  for (Eigen::Index i = 0; i < rows; ++i) {
    for (Eigen::Index j = 0; j < columns; ++j) {
      padded(i + 1, j + 1) = values[static_cast<std::size_t>(i * columns + j)];
    }
  }
  const Eigen::MatrixXd along_x = matrix(rows).partialPivLu().solve(padded);
  const Eigen::MatrixXd both = matrix(columns).partialPivLu().solve(along_x.transpose()).transpose();
  std::vector<double> out;
  for (Eigen::Index i = 0; i < rows + 2; ++i) {
    for (Eigen::Index j = 0; j < columns + 2; ++j) {
      out.push_back(both(i, j));
    }
  }
  return out;
}

}  // namespace bagsplit::basepath::spline_fit
