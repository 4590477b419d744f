#pragma once

#include <Eigen/Core>
#include <Eigen/SparseCore>
#include <cstddef>
#include <cstdint>
#include <span>
#include <utility>
#include <vector>

/// Quantities that are linear in jointly Gaussian factors: their joint distribution, and what they are once some are
/// known.
namespace bagsplit::stats {

/// constant + sum of coefficient x factor. A factor may be named more than once: its coefficients add up.
struct LinearQuantity {
  double constant = 0.0;
  std::vector<std::pair<std::size_t, double>> parts = {};  ///< index of a factor, coefficient

  LinearQuantity& add(std::size_t factor, double coefficient) {
    parts.emplace_back(factor, coefficient);
    return *this;
  }
  LinearQuantity& add(const LinearQuantity& other, double times = 1.0);
};

struct JointNormal {
  Eigen::VectorXd mean;
  Eigen::MatrixXd covariance;
};

/// Factors with mean 0, in blocks that are independent of each other.
class LinearGaussian {
 public:
  /// Adds a block of factors.  @param covariance  symmetric, positive semidefinite but for rounding: eigenvalues below
  /// 0 count as 0.
  /// @return index of the block's first factor.
  std::size_t add(const Eigen::MatrixXd& covariance);
  /// One factor of that SD, >= 0.
  std::size_t add(double sd);
  std::size_t size() const { return block_of_.size(); }

  /// Quantities that have been seen, ready to be used many times.
  struct Seen {
    Eigen::SparseMatrix<double> rows;  // observed by factors
    Eigen::MatrixXd factor;            // lower Cholesky factor of their covariance
    Eigen::VectorXd surprise;          // seen less expected, factor taken off
  };
  /// Two observed quantities that are the same but for rounding are a mistake of the caller: std::invalid_argument.
  /// Factors may be added afterwards.
  Seen see(std::span<const LinearQuantity> observed, std::span<const double> values) const;

  JointNormal joint(std::span<const LinearQuantity> wanted) const;
  /// The same once something has been seen.  Cost: O(observed^2 wanted + observed wanted^2).
  JointNormal given(std::span<const LinearQuantity> wanted, const Seen& seen) const;

 private:
  // One row a quantity: its coefficients on independent standard normal factors.
  Eigen::SparseMatrix<double> rows(std::span<const LinearQuantity> quantities) const;

  struct Block {
    std::size_t first = 0;
    Eigen::MatrixXd root;  // root root' = covariance
  };
  std::vector<Block> blocks_;
  std::vector<std::size_t> block_of_;  // a factor's block
};

/// A mixture of joint normals, weights summing to 1.
struct NormalMixture {
  std::vector<double> weights;
  std::vector<JointNormal> parts;  ///< all of one size
};

/// Probability that each is the lowest of all, from joint draws: whatever they share cancels. Parts get draws in
/// proportion to their weights, and every draw is used with its mirror image, so equals come out equal more closely
/// than chance alone would have it. Standard error at most 0.71 / sqrt(draws), the bound of mirrored pairs that always
/// agree, one pair less a part. One quantity alone is the lowest.
/// @throws std::invalid_argument for sizes that do not fit or no draws.
std::vector<double> p_lowest(const NormalMixture& mixture, std::size_t draws, std::uint64_t seed);

}  // namespace bagsplit::stats
