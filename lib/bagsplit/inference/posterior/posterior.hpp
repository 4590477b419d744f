#pragma once

#include <cstddef>
#include <cstdint>
#include <optional>
#include <span>
#include <string_view>
#include <vector>

#include "bagsplit/inference/posterior/estimate.hpp"
#include "bagsplit/inference/posterior/gaussian_mixture.hpp"
#include "bagsplit/inference/posterior/lattice.hpp"
#include "bagsplit/inference/posterior/slip.hpp"
#include "bagsplit/inference/posterior/sprint_marginal.hpp"
#include "bagsplit/inference/prior/prior_rule.hpp"
#include "bagsplit/inference/reading/player_data.hpp"
#include "bagsplit/motion/curve.hpp"

/// The player's posterior: (log V, log tau) by deterministic quadrature centred at the mode, everything linear in
/// closed form given them. No sampling.
namespace bagsplit::inference {

enum class PosteriorStatus : std::uint8_t {
  converged,      ///< a lattice twice as wide gives the same mass within the stated tolerance
  refined,        ///< as converged, after halving the spacing once or twice, or in other coordinates
  not_certified,  ///< still not the same, or cut short of where the posterior ends: the estimates are not to be used
};

/// Text for people, one line.
std::string_view describe(PosteriorStatus status);

/// How much trouble to take.
struct PosteriorEffort {
  /// A coarse lattice (nodes 1.3 SD apart, down to exp(-6) of the maximum, neighbours kept; no refinement): evidence
  /// and moments to about 0.1%, for fitting what players share. of_sprint() is not to be called.
  bool coarse = false;
  /// Where to begin the search for the mode.
  std::optional<motion::Sprint> near;
  bool name_slips = false;  ///< slips() with a coarse lattice too
};

class PlayerLikelihood;
class SlipMixture;
class SprintCoordinates;
class SprintDensity;
struct LatticeFrame;

class Posterior {
 public:
  /// @param data   priors and readings; without readings the posterior is the prior.
  /// @throws as validate().
  /// Method, in the coordinates (log tau, log of the time to the mean distance of the marks): mode by damped Newton
  /// steps (finite differences); trapezoid rule on a lattice scaled by the curvature at the mode, grown outwards until
  /// the density has fallen by exp(-8.5). For a smooth density the rule converges faster than any power of the spacing
  /// (Trefethen & Weideman 2014, SIAM Rev 56:385-458, doi:10.1137/130932132); the spacing is one posterior SD, halved
  /// up to twice while leaving out every other node changes the mass by more than 6%, or while the lattice does not
  /// reach as far as the posterior does (looked at where the prior is wide or the nodes had to come closer).
  explicit Posterior(const PlayerData& data, const TermMeans& term_means = {}, const PosteriorEffort& effort = {});

  PosteriorStatus status() const { return status_; }
  bool usable() const { return status_ != PosteriorStatus::not_certified; }
  /// log of the marginal likelihood of the readings (evidence) under the priors.
  double log_evidence() const { return lattice_.log_evidence; }
  /// The mode, near enough to begin the next search from.
  motion::Sprint mode() const { return mode_; }

  /// Where readings may be wrong (PlayerData::slips), a node stands for a sprint and a set of slips: one for each set
  /// of 5 in 100 or more, the others taken together. Slips that are not unlikely, in the order of
  /// the readings; empty where nothing looks wrong, for a coarse lattice, and where every reading counts in full.
  std::span<const Slip> slips() const { return slips_; }
  /// Of any slip in each reading; empty as slips().
  std::span<const double> slip_of_reading() const { return slip_of_reading_; }
  double probability_all_fit() const { return all_fit_; }
  /// Where nodes stand for a set of slips as well: what they stand for, and which node for which. Empty: one for all.
  std::span<const SlipGroup> slip_groups() const { return slip_groups_; }
  std::span<const std::uint32_t> group_of_node() const { return group_of_node_; }
  /// How many slips there seem to be.
  double expected_slips() const { return expected_slips_; }

  // Nodes: a weighted set of sprints, each with the Gaussian of the active linear terms given it.
  std::size_t size() const { return nodes().sprints.size(); }
  std::span<const double> weights() const { return nodes().weights; }  ///< sum 1
  std::span<const motion::Sprint> sprints() const { return nodes().sprints; }
  std::span<const std::uint32_t> active_terms() const { return active_; }
  /// Mean of the active terms at node i, q values.
  std::span<const double> term_means(std::size_t i) const {
    return std::span(nodes().means).subspan(i * active_.size(), active_.size());
  }
  /// Their covariance at node i, q x q row-major.
  std::span<const double> term_covariance(std::size_t i) const {
    return std::span(nodes().covariances).subspan(i * active_.size() * active_.size(), active_.size() * active_.size());
  }
  bool is_active(std::uint32_t term) const;

  /// Terms of a time over a distance with what each counts for: those given, 1 each, and late slowing where the
  /// readings leave it in doubt by more than 1 ms there.
  struct WeighedTerms {
    std::vector<std::uint32_t> terms;
    std::vector<double> coefficients;
  };
  WeighedTerms with_late(std::vector<std::uint32_t> terms, double distance_m) const;

  /// Summary of a smooth function of (V, tau), given by its value at each node.
  /// @param prior_variance  of the same function under the prior; none: no share.
  Estimate of_sprint(std::span<const double> values, double level, std::optional<double> prior_variance) const;

  /// The distribution that of_sprint() summarises; not longer than this posterior.
  SprintMarginal distribution_of_sprint(std::span<const double> values) const;

  /// Summary of a sum of linear terms (each with coefficient 1).  @param terms indices into PlayerData::terms, all
  /// active.
  Estimate of_terms(std::span<const std::uint32_t> terms, double level) const;

  /// Mean and SD at each node of f(sprint) + sum of terms: the components of a Gaussian mixture with the nodes'
  /// weights. Inactive terms enter with their prior.
  void mixture(std::span<const double> values, std::span<const std::uint32_t> terms, std::span<double> means,
               std::span<double> sds) const;

  /// The same with a coefficient for each term (as many as terms, or none for all 1).
  void mixture(std::span<const double> values, std::span<const std::uint32_t> terms,
               std::span<const double> coefficients, std::span<double> means, std::span<double> sds) const;

  const PlayerData& data() const { return data_; }

 private:
  PosteriorStatus integrate(SprintDensity& density, const SprintCoordinates& coordinates,
                            const PosteriorEffort& effort);
  PosteriorStatus lay(SprintDensity& density, const LatticeFrame& frame, const PosteriorEffort& effort);
  bool integrate_slips(PlayerLikelihood& likelihood, const PosteriorEffort& effort);
  void summarise(const SlipMixture& mixture);
  void tell_sets_apart(const SlipMixture& mixture);
  const Lattice& nodes() const { return place_.empty() ? lattice_ : by_set_; }
  std::vector<double> on_lattice(std::span<const double> values) const;

  PlayerData data_;
  PosteriorStatus status_ = PosteriorStatus::converged;
  motion::Sprint mode_{};
  std::vector<std::uint32_t> active_;
  Lattice lattice_;
  LatticeRows along_first_, along_second_;
  std::vector<Slip> slips_;
  std::vector<double> slip_of_reading_;
  double all_fit_ = 1.0;
  double expected_slips_ = 0.0;
  Lattice by_set_;  // nodes of the lattice and sets of slips: weights, sprints, means, covariances
  std::vector<SlipGroup> slip_groups_;
  std::vector<std::uint32_t> group_of_node_;
  std::vector<std::uint32_t> place_;  // of each of those on the lattice; empty: the lattice's nodes are all there is
};

}  // namespace bagsplit::inference
