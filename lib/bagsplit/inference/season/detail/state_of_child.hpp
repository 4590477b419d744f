// Anything linear in a child's states as a mixture of normals; not installed.
#pragma once

#include <vector>

#include "bagsplit/inference/season/detail/points.hpp"
#include "bagsplit/inference/season/fit.hpp"
#include "bagsplit/stats/mixture_of_normals.hpp"

namespace bagsplit::season {

struct Fit::State {
  Season season;
  Options options;
  Design design;
  Fitted fitted;
  Squad squad;

  State(Season given, Options how);
  State(const State&) = delete;
  State& operator=(const State&) = delete;
};

/// Weights of dates: what is compared. Ability at a moment is {{day, 1}}; a change takes 1 from one and gives it to
/// another.
struct Moment {
  double day = 0.0;
  double weight = 1.0;
};

/// A child's state at a level, weighted over moments: as a share of its moving time there.
struct Asked {
  std::size_t child = 0;
  int level = 0;
  std::vector<Moment> moments = {};
  bool with_level = false;          ///< the child's own level on the course is in
  std::optional<int> ground = {};   ///< one that the child ran on: its effect is in
  std::optional<double> odds = {};  ///< prior odds of change; none: what the squad taught
};

/// The state and the part of it beyond growth and the squad's common move.
struct Answered {
  stats::MixtureOfNormals state = {}, beyond = {};
};

Answered ask(const Fit::State& state, const Asked& asked);

/// Given that the child changed: weight of each shape of Design::shapes.
std::vector<double> shape_weights(const Fit::State& state, std::size_t child);

/// What the squad shares says of the moments of an answer: the mean over points.
Estimate over_points(const Fitted& fitted, const Eigen::VectorXd& coefficients);

}  // namespace bagsplit::season
