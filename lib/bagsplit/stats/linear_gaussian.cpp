#include "bagsplit/stats/linear_gaussian.hpp"

#include <Eigen/Cholesky>
#include <Eigen/Eigenvalues>
#include <algorithm>
#include <cmath>

#include "bagsplit/stats/check.hpp"
#include "bagsplit/stats/random.hpp"

namespace bagsplit::stats {

namespace {

using Eigen::Index;
using Eigen::MatrixXd;
using Eigen::VectorXd;

// root root' = covariance; by eigenvalues where a Cholesky factor does not exist.
MatrixXd root_of(const MatrixXd& covariance) {
  const Eigen::LLT<MatrixXd> factor(covariance);
  if (factor.info() == Eigen::Success) {
    return factor.matrixL();
  }
  const Eigen::SelfAdjointEigenSolver<MatrixXd> eigen(covariance);
  return eigen.eigenvectors() * eigen.eigenvalues().cwiseMax(0.0).cwiseSqrt().asDiagonal();
}

}  // namespace

LinearQuantity& LinearQuantity::add(const LinearQuantity& other, double times) {
  constant += times * other.constant;
  for (const auto& [factor, coefficient] : other.parts) {
    parts.emplace_back(factor, times * coefficient);
  }
  return *this;
}

std::size_t LinearGaussian::add(const MatrixXd& covariance) {
  if (covariance.rows() != covariance.cols()) {
    check::fail_call("LinearGaussian::add", "the covariance must be square");
  }
  const std::size_t first = block_of_.size();
  block_of_.insert(block_of_.end(), static_cast<std::size_t>(covariance.rows()), blocks_.size());
  blocks_.push_back({first, covariance.rows() == 0 ? covariance : root_of(covariance)});
  return first;
}

std::size_t LinearGaussian::add(double sd) {
  check::not_negative("LinearGaussian::add", "sd", sd);
  const std::size_t first = block_of_.size();
  block_of_.push_back(blocks_.size());
  blocks_.push_back({first, MatrixXd::Constant(1, 1, sd)});
  return first;
}

MatrixXd LinearGaussian::rows(std::span<const LinearQuantity> quantities) const {
  MatrixXd out = MatrixXd::Zero(static_cast<Index>(quantities.size()), static_cast<Index>(size()));
  for (std::size_t q = 0; q < quantities.size(); ++q) {
    for (const auto& [factor, coefficient] : quantities[q].parts) {
      const Block& block = blocks_.at(block_of_.at(factor));
      out.row(static_cast<Index>(q)).segment(static_cast<Index>(block.first), block.root.cols()) +=
          coefficient * block.root.row(static_cast<Index>(factor - block.first));
    }
  }
  return out;
}

JointNormal LinearGaussian::joint(std::span<const LinearQuantity> wanted) const {
  const MatrixXd r = rows(wanted);
  JointNormal out{VectorXd(r.rows()), r * r.transpose()};
  for (std::size_t q = 0; q < wanted.size(); ++q) {
    out.mean(static_cast<Index>(q)) = wanted[q].constant;
  }
  return out;
}

JointNormal LinearGaussian::given(std::span<const LinearQuantity> wanted, std::span<const LinearQuantity> observed,
                                  std::span<const double> values) const {
  check::same_size("LinearGaussian::given", "observed", observed.size(), "values", values.size());
  JointNormal out = joint(wanted);
  if (observed.empty()) {
    return out;
  }
  const MatrixXd w = rows(wanted);
  const MatrixXd o = rows(observed);
  VectorXd surprise(o.rows());
  for (std::size_t q = 0; q < observed.size(); ++q) {
    surprise(static_cast<Index>(q)) = values[q] - observed[q].constant;
  }
  const Eigen::LLT<MatrixXd> factor(o * o.transpose());
  if (factor.info() != Eigen::Success) {
    check::fail_call("LinearGaussian::given", "the observed quantities must not determine each other");
  }
  const MatrixXd cross = o * w.transpose();
  const MatrixXd half = factor.matrixL().solve(cross);
  out.mean += half.transpose() * factor.matrixL().solve(surprise);
  out.covariance -= half.transpose() * half;
  return out;
}

std::vector<double> p_lowest(const NormalMixture& mixture, std::size_t draws, std::uint64_t seed) {
  check::same_size("p_lowest", "weights", mixture.weights.size(), "parts", mixture.parts.size());
  if (mixture.parts.empty() || draws == 0) {
    check::fail_call("p_lowest", "at least one part and one draw are needed");
  }
  const auto n = static_cast<std::size_t>(mixture.parts.front().mean.size());
  std::vector<double> p(n, 0.0);
  for (std::size_t k = 0; k < mixture.parts.size(); ++k) {
    const JointNormal& part = mixture.parts[k];
    if (static_cast<std::size_t>(part.mean.size()) != n) {
      check::fail_call("p_lowest", "all parts must have the same size");
    }
    const MatrixXd root = root_of(part.covariance);
    const auto pairs =
        std::max<std::size_t>(1, static_cast<std::size_t>(0.5 * mixture.weights[k] * static_cast<double>(draws)));
    RandomStream random(seed, k);
    VectorXd z(root.cols());
    std::vector<std::size_t> wins(n, 0);
    for (std::size_t d = 0; d < pairs; ++d) {
      for (Index i = 0; i < z.size(); ++i) {
        z(i) = random.normal();
      }
      const VectorXd away = root * z;
      Index lowest = 0;
      (part.mean + away).minCoeff(&lowest);
      ++wins[static_cast<std::size_t>(lowest)];
      (part.mean - away).minCoeff(&lowest);
      ++wins[static_cast<std::size_t>(lowest)];
    }
    for (std::size_t i = 0; i < n; ++i) {
      p[i] += mixture.weights[k] * static_cast<double>(wins[i]) / (2.0 * static_cast<double>(pairs));
    }
  }
  return p;
}

}  // namespace bagsplit::stats
