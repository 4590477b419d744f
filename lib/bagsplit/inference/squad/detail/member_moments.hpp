#pragma once

#include <Eigen/Core>
#include <cstddef>
#include <vector>

#include "bagsplit/inference/posterior/posterior.hpp"
#include "bagsplit/inference/squad/squad_member.hpp"

/// From a member's posterior to what it says of the shared quantities; stays inside the module.
namespace bagsplit::inference {

/// Moments of a member's coordinates that have an uncertain prior and that readings depend on.
struct MemberMoments {
  std::vector<Eigen::Index> kept;  ///< coordinates
  std::vector<std::size_t> place;  ///< of the kept terms, in the active ones
  Eigen::VectorXd weights;         ///< of the nodes
  Eigen::VectorXd shift;           ///< posterior less prior mean
  Eigen::MatrixXd deviations;  ///< kept x nodes, from the posterior mean; what the sprint itself says of a term is none
  Eigen::MatrixXd within;      ///< mean covariance at a node
  Eigen::MatrixXd spread;      ///< posterior covariance
};

/// @param prior  of x, under which the posterior was found.
MemberMoments moments_of(const Posterior& posterior, const Gaussian& prior, const TermMeans& means);

/// The shared quantities under a member's posterior: given x they are linear in it, so mean and covariance carry over.
struct CarriedOver {
  Eigen::VectorXd mean;
  Eigen::MatrixXd covariance;
  Eigen::MatrixXd gain;  ///< shared x kept
};

/// @param rest  of the shared quantities, the member left out.   @param prior  of x under it.
CarriedOver carry_over(const SharedLinks& links, const Gaussian& rest, const Gaussian& prior,
                       const MemberMoments& moments);

}  // namespace bagsplit::inference
