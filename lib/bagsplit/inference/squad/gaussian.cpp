#include "bagsplit/inference/squad/gaussian.hpp"

#include <Eigen/Cholesky>
#include <Eigen/LU>
#include <cmath>
#include <utility>

namespace bagsplit::inference {

using Eigen::Index;
using Eigen::MatrixXd;
using Eigen::VectorXd;

namespace {

constexpr double most_wider =
    2.0;  // SDs: what others have run does not make one know less, and nearly linear terms widen little

}  // namespace

SharedMessage SharedMessage::silent(std::vector<std::uint32_t> about) {
  const auto n = static_cast<Index>(about.size());
  return {std::move(about), MatrixXd::Zero(n, n), VectorXd::Zero(n)};
}

Gaussian without(const Gaussian& all, const SharedMessage& message) {
  const auto n = static_cast<Index>(message.about.size());
  Gaussian part{VectorXd(n), MatrixXd(n, n)};
  for (Index a = 0; a < n; ++a) {
    const auto i = static_cast<Index>(message.about[static_cast<std::size_t>(a)]);
    part.mean(a) = all.mean(i);
    for (Index b = 0; b < n; ++b) {
      part.covariance(a, b) = all.covariance(i, static_cast<Index>(message.about[static_cast<std::size_t>(b)]));
    }
  }
  if (n == 0 || message.precision.isZero(0.0)) {
    return part;
  }
  // (C^-1 - P)^-1 = C + C (P^-1 - C)^-1 C without inverting P: solve with I - C P.
  const MatrixXd left = MatrixXd::Identity(n, n) - part.covariance * message.precision;
  const Eigen::PartialPivLU<MatrixXd> lu(left);
  Gaussian rest;
  rest.covariance = lu.solve(part.covariance);
  rest.covariance = 0.5 * (rest.covariance + rest.covariance.transpose()).eval();
  rest.mean = lu.solve(part.mean - part.covariance * message.shift);
  return rest;
}

bool is_sound(const Gaussian& g, std::span<const std::uint32_t> about, std::span<const Normal> prior) {
  for (Index a = 0; a < g.mean.size(); ++a) {
    const double sd = most_wider * prior[about[static_cast<std::size_t>(a)]].sd;
    if (!std::isfinite(g.mean(a)) || !(g.covariance(a, a) <= sd * sd)) {
      return false;
    }
  }
  return g.mean.size() == 0 || Eigen::LLT<MatrixXd>(g.covariance).info() == Eigen::Success;
}

double log_partition(const MatrixXd& precision, const VectorXd& shift) {
  if (shift.size() == 0) {
    return 0.0;
  }
  const Eigen::LLT<MatrixXd> factor(precision);
  const MatrixXd lower = factor.matrixL();
  return 0.5 * shift.dot(factor.solve(shift)) - lower.diagonal().array().log().sum();
}

}  // namespace bagsplit::inference
