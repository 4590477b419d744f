#pragma once

#include <Eigen/Core>
#include <cstddef>
#include <cstdint>
#include <optional>
#include <span>
#include <vector>

#include "bagsplit/inference/posterior/posterior.hpp"
#include "bagsplit/inference/reading/player_data.hpp"
#include "bagsplit/inference/squad/squad_member.hpp"
#include "bagsplit/inference/squad/squad_scales.hpp"

/// What the players of a squad share, learnt from all of them together: scatter from run to run, timers' biases, how
/// far the squad is from the norms. With three runs a child, nobody's own scatter is worth much.
///
/// Model. Player i's quantities x_i = (log V, log tau, linear terms) are x_i = a_i + A_i g + e_i: a_i and the SDs of
/// e_i are the player's own prior (age, sex), g ~ N(.,.) the shared quantities (a bias has no own part; a reaction has
/// both). Scales theta = (log cv, log cv_day, log s_RT, log of the factor on hand-press errors, slope of own losses on
/// own log V) have normal priors. The slope is a scale and no shared quantity: times a child's own log V it would enter
/// twice, and a fit around one value of it takes its own guess for what the readings say.
///
/// Method. Given theta, g is found by expectation propagation (message_passing.hpp), nearly exact here, since x enters
/// nearly linearly. This gives p(readings | theta) too. theta is integrated over a small design around its mode
/// (squad_scales.hpp).
namespace bagsplit::inference {

struct SquadOptions {
  unsigned threads = 1;  ///< 0: as many as the machine has; the answer does not depend on it
  /// With no scale's SD (of its logarithm) above this, the design is its centre alone.
  double narrow_sd = 0.12;
};

/// One point of the design.
struct SquadPoint {
  double weight = 1.0;
  SquadScales scales;
  Eigen::VectorXd mean;  ///< of the shared quantities, all data
  Eigen::MatrixXd covariance;
  std::vector<SharedMessage> messages;  ///< one a member
};

struct SquadFit {
  std::vector<Normal> shared_prior;
  std::vector<SquadPoint> points;                                       ///< weights sum to 1; the first is the mode
  Normal log_effort_cv, log_day_cv, log_reaction_sd, log_press_factor;  ///< posterior
  Normal loss_slope_s;                                                  ///< posterior
  double log_evidence = 0.0;                                            ///< over theta too (Laplace)
  double slip_rate = 0.0;  ///< of a slip at a mark; 0: every reading counts in full
  bool converged = false;
  int sweeps = 0;  ///< passes over all members

  /// Posterior of a shared quantity, over the design.
  Normal shared(std::uint32_t k) const;
  /// The same of weight times one and another.
  Normal shared(double weight, std::uint32_t k, std::uint32_t other) const;
};

/// @param members  every member with at least one reading that tells something.
/// @param shared   priors of the shared quantities, independent.
/// Deterministic. Cost: about 50 passes over the members at 0.1-0.2 ms a player.
/// @throws std::invalid_argument for sizes or indices that do not fit; as validate().
SquadFit fit_squad(std::span<const SquadMember> members, std::span<const Normal> shared, const SquadScalePriors& scales,
                   const SquadOptions& options = {}, std::span<const TermMeans> term_means = {});

/// The member's data under what the rest of the squad says: a joint prior in place of the independent one.
/// @param index  which of fit_squad's members it is, so that its own readings do not count twice; absent: none of them.
PlayerData member_data(const SquadFit& fit, const SquadPoint& point, const SquadMember& member,
                       std::optional<std::size_t> index);

/// A quantity as a member's posterior has it: f(sprint) + sum of c_k term_k.
struct NodeQuantity {
  std::vector<double> means;         ///< at each node, its terms at their mean there
  std::vector<double> coefficients;  ///< c, one an active term
};

/// How quantities of a member and what is shared vary together under its posterior.
struct SharedCovariance {
  std::vector<std::uint32_t> about;  ///< the shared quantities it points to, ascending
  Eigen::MatrixXd shared;            ///< of those
  Eigen::MatrixXd cross;             ///< quantities x those
  Eigen::MatrixXd own;               ///< of the quantities
};

/// With it, players are drawn jointly: given what is shared they are independent.
/// @param posterior  of member_data(fit, point, member, index), with the same term means.
/// @throws std::invalid_argument for sizes that do not fit.
SharedCovariance covariance_with_shared(const SquadFit& fit, const SquadPoint& point, const SquadMember& member,
                                        std::optional<std::size_t> index, const Posterior& posterior,
                                        const TermMeans& term_means, std::span<const NodeQuantity> quantities);
/// What is thought of a member's x = (log V, log tau, terms) and of the shared quantities it points to, its own
/// readings left out: jointly Gaussian. With it two members' posteriors can be tied together through what they share.
struct MemberPrior {
  std::vector<std::uint32_t> about;  ///< shared quantities, ascending
  Eigen::VectorXd mean;              ///< of x, 2 + terms
  Eigen::MatrixXd covariance;        ///< of x
  Eigen::MatrixXd cross;             ///< about x (2 + terms)
};
MemberPrior member_prior(const SquadFit& fit, const SquadPoint& point, const SquadMember& member,
                         std::optional<std::size_t> index);

}  // namespace bagsplit::inference
