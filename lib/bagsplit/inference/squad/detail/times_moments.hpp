#pragma once

#include <Eigen/Core>
#include <bit>
#include <cstdint>
#include <optional>
#include <vector>

#include "bagsplit/inference/posterior/posterior.hpp"
#include "bagsplit/inference/reading/assemble.hpp"
#include "bagsplit/inference/reading/best_path_losses.hpp"
#include "bagsplit/inference/squad/squad.hpp"
#include "bagsplit/inference/squad/squad_times.hpp"

/// From one player's posterior to the Gaussian of what was asked; stays inside the module.
namespace bagsplit::inference {

template <typename Function>
void each_bit(std::uint64_t bits, Function&& function) {
  for (; bits != 0; bits &= bits - 1) {
    function(static_cast<std::uint32_t>(std::countr_zero(bits)));
  }
}

/// One player's numbers: own runs as data, and for each course and clock asked about the terms a reading of it would
/// hold.
struct Subject {
  runs::NameId name = runs::no_name;
  Assembled assembled;
  LossMeans loss_means;
  std::vector<std::uint64_t> course_terms, clock_terms;  ///< bit masks over the terms
  std::optional<std::uint32_t> reaction;
};

/// Mean and covariance of a player's components at one point, over the posterior's nodes, and how they go with the
/// player's own x.
class TimesMoments {
 public:
  TimesMoments(const Subject& subject, const inference::Posterior& posterior, const SquadTimesQuestion& question);

  const Eigen::VectorXd& mean() const { return mean_; }              ///< of the components
  const Eigen::MatrixXd& covariance() const { return covariance_; }  ///< of the components
  const motion::Sprint& usual() const { return usual_; }             ///< the posterior's mode
  /// How the components go with what the squad shares: through the player's own x, as the prior ties the two.
  /// Components x shared.
  Eigen::MatrixXd loading(const inference::MemberPrior& prior, const inference::SquadPoint& point) const;

 private:
  /// At each node: x = (log V, log tau, active terms, rest) less what the prior's middle and the sprint itself say of
  /// it; the terms themselves; the straight times of the courses.
  struct Nodes {
    Eigen::MatrixXd deviation, terms, straight;
    Eigen::VectorXd weights;
    Eigen::MatrixXd spread;  ///< of all terms given the sprint, over the nodes
  };

  Nodes at_nodes() const;
  void gather(const Nodes& nodes);
  Eigen::Index place(std::uint32_t term) const;
  std::uint32_t term(Eigen::Index x) const;
  Eigen::Index x_size() const { return 2 + static_cast<Eigen::Index>(active_.size() + rest_.size()); }

  const Subject& subject_;
  const inference::Posterior& posterior_;
  const SquadTimesQuestion& question_;
  const inference::PlayerData& data_;
  motion::Sprint usual_;
  std::vector<std::uint32_t> active_;  ///< terms a reading depends on
  std::vector<std::uint32_t> rest_;    ///< terms only what is asked depends on
  Eigen::VectorXd mean_;
  Eigen::MatrixXd covariance_, cross_;  ///< cross: x by components
};

}  // namespace bagsplit::inference
