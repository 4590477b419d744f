// Runs of one child and evening that were measured alike, joined into one; not installed.
#pragma once

#include <Eigen/Core>
#include <vector>

#include "bagsplit/inference/season/detail/design.hpp"

namespace bagsplit::season {

/// `runs` runs of k readings each, alike in all but their times: their mean is sufficient but for what lies in the
/// scatter about it.
struct Block {
  Index first = 0;  ///< place of its first unit
  Index size = 1;   ///< k
  double runs = 1.0;
  Eigen::MatrixXd noise = {};                       ///< k x k: press, reaction, mark of one run; effort is added
  Eigen::MatrixXd scatter = {};                     ///< k x k: sums of products about the mean of the runs
  std::vector<std::vector<std::size_t>> rows = {};  ///< of the child's rows: by run, by unit
};

/// The data of a child: n units (means over the runs of a block).
struct Units {
  std::vector<Block> blocks = {};
  Eigen::MatrixXd shared = {};  ///< n x touched
  Eigen::MatrixXd shapes = {};  ///< n x shapes: of a change of 1
  Eigen::VectorXd z = {};
  Eigen::VectorXd time_yr = {};
  std::vector<int> date = {}, level = {};
  double growth_var = 0.0;
  std::vector<double> evening_added = {};  ///< by date, to the variance of form
  double log_jacobian = 0.0;               ///< of taking means: makes evidence that of the single readings
  Index size() const { return z.size(); }
};

Units collapse(const Design& design, const ChildRows& child);

}  // namespace bagsplit::season
