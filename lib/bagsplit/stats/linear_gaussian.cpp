#include "bagsplit/stats/linear_gaussian.hpp"

#include <Eigen/Cholesky>
#include <Eigen/Eigenvalues>
#include <algorithm>
#include <cmath>

#include "bagsplit/stats/detail/check.hpp"
#include "bagsplit/stats/random.hpp"

namespace bagsplit::stats {

namespace {

using Eigen::Index;
using Eigen::MatrixXd;
using Eigen::VectorXd;
using SparseMatrix = Eigen::SparseMatrix<double>;

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

SparseMatrix LinearGaussian::rows(std::span<const LinearQuantity> quantities) const {
  std::vector<Eigen::Triplet<double>> entries;
  for (std::size_t q = 0; q < quantities.size(); ++q) {
    for (const auto& [factor, coefficient] : quantities[q].parts) {
      const Block& block = blocks_.at(block_of_.at(factor));
      const auto row = static_cast<Index>(factor - block.first);
      for (Index k = 0; k < block.root.cols(); ++k) {
        if (const double entry = coefficient * block.root(row, k); entry != 0.0) {
          entries.emplace_back(static_cast<int>(q), static_cast<int>(block.first) + static_cast<int>(k), entry);
        }
      }
    }
  }
  SparseMatrix out(static_cast<Index>(quantities.size()), static_cast<Index>(size()));
  out.setFromTriplets(entries.begin(), entries.end());  // adds up what stands in one place
  return out;
}

LinearGaussian::Seen LinearGaussian::see(std::span<const LinearQuantity> observed,
                                         std::span<const double> values) const {
  check::same_size("LinearGaussian::see", "observed", observed.size(), "values", values.size());
  Seen seen{rows(observed), {}, VectorXd(static_cast<Index>(observed.size()))};
  for (std::size_t q = 0; q < observed.size(); ++q) {
    seen.surprise(static_cast<Index>(q)) = values[q] - observed[q].constant;
  }
  const Eigen::LLT<MatrixXd> factor(MatrixXd(seen.rows * seen.rows.transpose()));
  if (factor.info() != Eigen::Success) {
    check::fail_call("LinearGaussian::see", "the observed quantities must not determine each other");
  }
  seen.factor = factor.matrixL();
  seen.factor.triangularView<Eigen::Lower>().solveInPlace(seen.surprise);
  return seen;
}

JointNormal LinearGaussian::joint(std::span<const LinearQuantity> wanted) const {
  const SparseMatrix w = rows(wanted);
  JointNormal out{VectorXd(w.rows()), MatrixXd(w * w.transpose())};
  for (std::size_t q = 0; q < wanted.size(); ++q) {
    out.mean(static_cast<Index>(q)) = wanted[q].constant;
  }
  return out;
}

JointNormal LinearGaussian::given(std::span<const LinearQuantity> wanted, const Seen& seen) const {
  JointNormal out = joint(wanted);
  if (seen.surprise.size() == 0) {
    return out;
  }
  const SparseMatrix w = rows(wanted);
  MatrixXd half = MatrixXd(seen.rows * SparseMatrix(w.leftCols(seen.rows.cols())).transpose());
  seen.factor.triangularView<Eigen::Lower>().solveInPlace(half);
  out.mean += half.transpose() * seen.surprise;
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
