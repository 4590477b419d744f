#pragma once

#include <Eigen/Core>
#include <cstdint>
#include <span>
#include <vector>

#include "bagsplit/inference/prior/model.hpp"

/// Gaussians of several quantities, and messages about some of them.
namespace bagsplit::inference {

struct Gaussian {
  Eigen::VectorXd mean;
  Eigen::MatrixXd covariance;
};

/// A message about some of the shared quantities, in natural parameters.
struct SharedMessage {
  std::vector<std::uint32_t> about;  ///< ascending
  Eigen::MatrixXd precision;
  Eigen::VectorXd shift;  ///< precision times mean

  /// One that says nothing.
  static SharedMessage silent(std::vector<std::uint32_t> about);
};

/// What the rest says of the quantities a message is about: their marginal with the message taken out.
Gaussian without(const Gaussian& all, const SharedMessage& message);

/// Is it a distribution, and none much wider than the prior?  @param about  which entry of `prior` each quantity is.
bool is_sound(const Gaussian& g, std::span<const std::uint32_t> about, std::span<const Normal> prior);

/// log of the integral of exp(shift' x - x' precision x / 2), but for a constant of the dimension.
double log_partition(const Eigen::MatrixXd& precision, const Eigen::VectorXd& shift);

}  // namespace bagsplit::inference
