// Who changed: each child's exact mixture over shapes of a change, matched by one Gaussian message to what the squad
// shares (expectation propagation); not installed.
#pragma once

#include <Eigen/Core>
#include <vector>

#include "bagsplit/inference/season/detail/evidence.hpp"

namespace bagsplit::season {

/// What a child says of a change of each shape, with its own states integrated out: K shapes.
struct ChangeFit {
  Eigen::MatrixXd with_shared = {};  ///< X' C^-1 Phi, touched x K
  Eigen::VectorXd information = {};  ///< phi' C^-1 phi
  Eigen::VectorXd pull = {};         ///< phi' C^-1 z
};

ChangeFit fit_changes(const Units& units, const ChildFit& fit);

/// g as one child sees it (the others' message and its own readings, no change), at its touched places.
struct SharedView {
  Eigen::MatrixXd covariance = {};
  Eigen::VectorXd mean = {};
};

/// The child's 2K ways to change, K faster and then K slower; Gaussian size each.
struct Ways {
  Eigen::VectorXd weight = {};  ///< given that it changed; sums to 1
  Eigen::VectorXd mean = {}, var = {};
  Eigen::MatrixXd moves = {};     ///< covariance times with_shared, touched x K: what a change of 1 does to g
  double log_bayes_factor = 0.0;  ///< changed against not
};

/// @param size  centre of the size of a change; its SD is Options::size_rel_sd of it.
Ways ways_to_change(const Design& design, const ChangeFit& change, const SharedView& view, double size);

/// A point of the design over (evening_sd, size of changes).
struct Point {
  double evening_sd = 0.0, size = 0.0;
  double share = 0.2;  ///< of children that changed: what the messages believe; then its posterior mean
  double log_weight = 0.0, weight = 0.0;
  std::vector<double> changed = {};  ///< P(child changed)
  std::vector<double> log_bayes_factor = {};
  std::vector<SharedView> views = {};
  SquadFit squad = {};
  std::vector<Eigen::MatrixXd> message_precision = {};  ///< of each child's message to g
  std::vector<Eigen::VectorXd> message_shift = {};
};

/// Messages until they settle.  Starts from those in `point`, or from the children's own where it has none.
void propagate(const Design& design, const std::vector<ChildFit>& children, const std::vector<ChangeFit>& changes,
               Point& point);

}  // namespace bagsplit::season
