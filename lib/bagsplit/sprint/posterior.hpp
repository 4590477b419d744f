#pragma once

#include <cmath>
#include <cstddef>
#include <cstdint>
#include <optional>
#include <span>
#include <string_view>
#include <vector>

#include "bagsplit/motion/curve.hpp"
#include "bagsplit/sprint/likelihood.hpp"
#include "bagsplit/sprint/player_data.hpp"

/// The player's posterior: (log V, log tau) by deterministic quadrature centred at the mode, everything linear in
/// closed form given them. No sampling.
namespace bagsplit::sprint {

/// Summary of one quantity. Intervals are equal-tailed.
struct Estimate {
  double mean = 0.0;
  double sd = 0.0;
  double lo = 0.0;
  double median = 0.0;
  double hi = 0.0;
  /// 1 - posterior variance / variance before the player's own readings; may be negative. With a squad's model that is
  /// what all others leave open, so that what they told is not counted as the player's own.
  std::optional<double> share_from_data;
};

enum class PosteriorStatus : std::uint8_t {
  converged,      ///< a lattice twice as wide gives the same mass within the stated tolerance
  refined,        ///< as converged, after halving the spacing once or twice
  not_certified,  ///< still not the same: the estimates are not to be used
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
};

class Posterior {
 public:
  /// @param data   priors and readings; without readings the posterior is the prior.
  /// @throws as validate().
  /// Method, in the coordinates (log tau, log of the time to the mean distance of the marks): mode by damped Newton
  /// steps (finite differences); trapezoid rule on a lattice scaled by the curvature at the mode, grown outwards until
  /// the density has fallen by exp(-8.5). For a smooth density the rule converges faster than any power of the spacing
  /// (Trefethen & Weideman 2014, SIAM Rev 56:385-458, doi:10.1137/130932132); the spacing is one posterior SD, halved
  /// up to twice while leaving out every other node changes the mass by more than 6%.
  explicit Posterior(const PlayerData& data, const TermMeans& term_means = {}, const PosteriorEffort& effort = {});

  PosteriorStatus status() const { return status_; }
  bool usable() const { return status_ != PosteriorStatus::not_certified; }
  /// log of the marginal likelihood of the readings (evidence) under the priors.
  double log_evidence() const { return log_evidence_; }
  /// The mode, near enough to begin the next search from.
  motion::Sprint mode() const { return mode_; }

  // Nodes: a weighted set of sprints, each with the Gaussian of the active linear terms given it.
  std::size_t size() const { return weights_.size(); }
  std::span<const double> weights() const { return weights_; }  ///< sum 1
  std::span<const motion::Sprint> sprints() const { return sprints_; }
  std::span<const std::uint32_t> active_terms() const { return active_; }
  /// Mean of the active terms at node i, q values.
  std::span<const double> term_means(std::size_t i) const {
    return std::span(means_).subspan(i * active_.size(), active_.size());
  }
  /// Their covariance at node i, q x q row-major.
  std::span<const double> term_covariance(std::size_t i) const {
    return std::span(covariances_).subspan(i * active_.size() * active_.size(), active_.size() * active_.size());
  }
  bool is_active(std::uint32_t term) const;

  /// Summary of a smooth function of (V, tau), given by its value at each node.
  /// @param prior_variance  of the same function under the prior; none: no share.
  Estimate of_sprint(std::span<const double> values, double level, std::optional<double> prior_variance) const;

  /// The distribution that of_sprint() summarises.
  class SprintDistribution;
  SprintDistribution distribution_of_sprint(std::span<const double> values) const;

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
  struct Row {
    std::uint32_t first_node = 0;  // into row_nodes_
    std::uint32_t nodes = 0;
    double start = 0.0;            // coordinate of the first node along the row, in lattice units
    std::uint32_t first_fine = 0;  // into the fine arrays
    std::uint32_t fine = 0;
  };
  struct Rows {
    std::vector<Row> rows;
    std::vector<std::uint32_t> nodes;         // node index in row order
    std::vector<double> density, cumulative;  // fine points; cumulative mass from the row's start
  };

  // A function along the rows that cross it most steeply, at the fine points.
  struct Along {
    const Rows* rows = nullptr;
    double step = 1.0;  // between fine points
    std::vector<double> fine, padded;
    std::vector<std::int8_t> direction;  // +1 rising, -1 falling, 0 neither; one a row
    double lowest = 0.0, highest = 0.0;

    // Adds P(value < c) and the density there.
    void evaluate(double c, double& cdf, double& density) const;
  };

  void build_rows(Rows& rows, bool along_first) const;
  void follow(std::span<const double> values, Along& along) const;

  PlayerData data_;
  PosteriorStatus status_ = PosteriorStatus::converged;
  double log_evidence_ = 0.0;
  motion::Sprint mode_{};
  double spacing_ = 1.0;
  std::vector<std::uint32_t> active_;
  std::vector<double> weights_, log_density_;
  std::vector<motion::Sprint> sprints_;
  std::vector<double> means_, covariances_;
  std::vector<int> lattice_first_, lattice_second_;
  Rows along_first_, along_second_;
};

/// Not longer than its posterior.
class Posterior::SprintDistribution {
 public:
  double below(double x) const;  ///< P(value < x)

 private:
  friend class Posterior;
  Along along_;
};

/// Quantile-ready Gaussian mixture: mean, sd and equal-tailed interval of sum_i w_i N(m_i, s_i^2).
/// Quantiles by Newton's method on the CDF, kept inside a bracket; accuracy about 1e-6 of the SD.
Estimate summarise_mixture(std::span<const double> weights, std::span<const double> means, std::span<const double> sds,
                           double level);

/// Summary of time / (time + loss), the loss Gaussian at each node: an efficiency, 0-1.
/// P(efficiency < c) = P(loss > time (1/c - 1)); mean and SD by a 7-point rule over the loss at each node.
/// @param times_s  > 0.   @param loss_means_s, loss_sds_s  such that time + loss > 0 but for a negligible probability.
Estimate summarise_efficiency(std::span<const double> weights, std::span<const double> times_s,
                              std::span<const double> loss_means_s, std::span<const double> loss_sds_s, double level);

/// Probability that a Gaussian mixture lies below x. Components with sd 0 are steps.
double mixture_below(std::span<const double> weights, std::span<const double> means, std::span<const double> sds,
                     double x);

/// Variance of a function of (V, tau) under the Gaussian prior of log V and log tau - with a squad's model that which
/// all others' runs leave: a 9 x 9 trapezoid rule.
/// @param function  called with a Sprint, returns double.
template <typename Function>
double prior_variance_of(const PlayerData& data, Function&& function);

/// Nodes and weights of that rule (z in prior SDs; weights sum to 1).
struct PriorRule {
  static constexpr int points = 9;
  double z[points];
  double weight[points];
};
const PriorRule& prior_rule();
/// SDs of log tau from its mean at a node of the rule, given how it goes with log V.
inline double log_time_constant_z(const PlayerData& data, double z, double of_its_own) {
  return data.log_correlation * z + std::sqrt(1.0 - data.log_correlation * data.log_correlation) * of_its_own;
}

template <typename Function>
double prior_variance_of(const PlayerData& data, Function&& function) {
  const PriorRule& rule = prior_rule();
  double sum = 0.0;
  double square = 0.0;
  double reference = 0.0;
  bool first = true;
  for (int i = 0; i < PriorRule::points; ++i) {
    const double top_speed_mps = std::exp(data.log_top_speed.mean + data.log_top_speed.sd * rule.z[i]);
    for (int j = 0; j < PriorRule::points; ++j) {
      const double z = log_time_constant_z(data, rule.z[i], rule.z[j]);
      const double value =
          function(motion::Sprint{top_speed_mps, std::exp(data.log_time_constant.mean + data.log_time_constant.sd * z)});
      if (first) {
        reference = value;
        first = false;
      }
      const double weight = rule.weight[i] * rule.weight[j];
      sum += weight * (value - reference);
      square += weight * (value - reference) * (value - reference);
    }
  }
  return square - sum * sum;
}

}  // namespace bagsplit::sprint
