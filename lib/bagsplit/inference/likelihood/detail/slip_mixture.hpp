#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <span>
#include <vector>

#include "bagsplit/inference/likelihood/detail/slip_columns.hpp"
#include "bagsplit/inference/likelihood/detail/sprint_density.hpp"

/// A player's readings where some may be wrong: the mixture, over sets of slips, of what the rest says; stays inside
/// the module.
///
/// Given a set S everything stays Gaussian. With variances s^2, M = G_SS + diag(1/s^2), V = M^-1, d = V h_S:
///     log odds of S = d'h_S / 2 - log(det M prod s^2) / 2 + sum of log prior odds + [lost, slow] log 2 Phi(d / sqrt V)
///     terms given S: mean w - Sigma U_S d, covariance Sigma + Sigma U_S V U_S' Sigma;   slip given S: d, V.
/// (That lost time is positive is left out of these moments.)
namespace bagsplit::inference {

inline constexpr std::size_t most_slips = 4;  ///< of one player at once

struct SlipSet {
  std::uint32_t count = 0;
  std::array<std::uint32_t, most_slips> column{};  ///< ascending
  std::array<std::uint32_t, most_slips> size{};    ///< into SlipPrior::sizes_s
  double log_odds = 0.0;                           ///< against no slip
};

class SlipMixture : public SprintDensity {
 public:
  /// The likelihood stays with the caller; its data is `data`, with a rate of slips above 0.
  SlipMixture(const PlayerData& data, PlayerLikelihood& likelihood);
  ~SlipMixture() override;
  SlipMixture(const SlipMixture&) = delete;
  SlipMixture& operator=(const SlipMixture&) = delete;

  /// Where (log V, log tau) are, and what sets of slips are worth keeping.
  struct Search {
    double log_v = 0.0, log_tau = 0.0;
    double vv = 0.0, vt = 0.0, tt = 0.0;  ///< covariance
    double log_odds = 0.0;                ///< of any single slip, against none
    double expected_slips = 0.0;
    bool looks_clean = false;  ///< no slip is likely: only the empty set is kept
    bool settled = false;      ///< the last round hardly moved the sprint
  };
  /// Linearised about a sprint, then about where that leads; by beam search.  @param log_cut  sets so far below the
  /// likeliest are left out.   @param most_sets  kept.   @param least_log_odds  of one slip, for slips to be searched
  /// at all.
  Search search(double log_v, double log_tau, double log_cut, std::size_t most_sets, double least_log_odds);

  std::size_t term_count() const override { return likelihood_.term_count(); }
  double log_posterior(double log_top_speed, double log_time_constant) override;
  /// The terms' Gaussian has the mixture's mean and covariance.
  double condition(double log_top_speed, double log_time_constant, std::span<double> means,
                   std::span<double> covariance) override;

  std::span<const std::uint32_t> used() const { return used_; }
  const SlipColumn& column(std::size_t a) const { return columns_[a]; }

  /// Of one sprint: of the slips used, and the terms' Gaussian for each group of sets.
  struct Node {
    double none = 1.0;
    std::vector<double> probability, size, size_square;  ///< the latter two times the probability
    std::vector<double> reading;                         ///< any slip in it, about PlayerData::readings
    std::vector<double> sets;                            ///< of each set
    std::vector<double> group, means, covariances;       ///< of each group its probability, q values, q x q
  };
  /// From here on every call of condition() is kept, with sets that are likely for themselves told apart; the Gaussian
  /// of all is then made only where there is one group.   @param least  probability of a set that stands apart.
  void keep_nodes(double least);
  std::span<const Node> nodes() const { return nodes_; }  ///< in the order of the calls
  /// The groups, by the weight of each set over all nodes, sum 1.
  std::vector<SlipGroup> groups(std::span<const double> set_weights) const;

 private:
  struct Linear;
  struct Given;

  Linear linearise(double log_v, double log_tau);
  void extend(const Linear& linear, const SlipSet& from, double least, std::vector<SlipSet>& to) const;
  std::vector<SlipSet> beam_search(const Linear& linear, std::vector<SlipSet> singles, double log_cut) const;
  void keep(std::vector<SlipSet> found, double log_cut, std::size_t most);
  Search moments(const Linear& linear) const;
  void shift_terms(std::span<double> means, std::span<double> covariance);
  void clear_node();
  Given given(const SlipSet& set) const;
  void add_to_node(const SlipSet& set, const Given& given, double probability);
  void add_groups(std::span<const double> means, std::span<const double> covariance, bool weighty);
  double mix(double base);

  const PlayerData& data_;
  PlayerLikelihood& likelihood_;
  SlipColumns columns_;
  std::vector<std::array<double, 2>> log_prior_;  // of each column and size
  std::vector<SlipSet> sets_;                     // the empty one among them
  double log_left_out_ = 0.0;                     // all found over those kept
  std::vector<std::uint32_t> used_;               // columns in a set
  std::vector<SlipSet> set_places_;               // the sets, by places in used_
  std::vector<std::uint8_t> together_;            // used x used: in one set

  // At a node.
  Node node_;
  std::vector<Given> given_;  // one a set
  bool keeping_ = false;
  double highest_ = 0.0;  // log density of a node kept
  std::vector<Node> nodes_;
  std::size_t group_count_ = 1;
  std::vector<std::size_t> group_of_;  // of each set, 0 for the likeliest
  std::vector<double> g_, second_, shift_, moved_, means_, covariance_;
};

}  // namespace bagsplit::inference
