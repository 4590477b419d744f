#pragma once

#include <cstddef>
#include <cstdint>
#include <span>
#include <vector>

#include "bagsplit/inference/likelihood/detail/linear_sums.hpp"
#include "bagsplit/inference/likelihood/detail/run_patterns.hpp"
#include "bagsplit/inference/likelihood/detail/sprint_density.hpp"
#include "bagsplit/inference/reading/player_data.hpp"

/// Marginal likelihood of one player's readings given (log V, log tau): every linear term and the form of each day
/// integrated out in closed form; stays inside the module.
///
/// Linear terms beta ~ N(m, S), day effects delta_d ~ N(0, cv_day^2) multiplying T, the noise of a run as in
/// run_patterns.hpp.
namespace bagsplit::inference {

class PlayerLikelihood : public SprintDensity {
 public:
  /// Prepares the sufficient statistics. @throws as validate(). Cost: O(marks).
  explicit PlayerLikelihood(const PlayerData& data, TermMeans term_means = {});
  PlayerLikelihood(const PlayerLikelihood&) = delete;
  PlayerLikelihood& operator=(const PlayerLikelihood&) = delete;

  /// Linear terms that at least one reading depends on, ascending: the others keep their prior.
  std::span<const std::uint32_t> active_terms() const { return patterns_.active; }
  std::size_t mark_count() const { return patterns_.mark_count; }

  std::size_t term_count() const override { return patterns_.active.size(); }
  /// log p(readings | log V, log tau) + log prior density of (log V, log tau). Not thread-safe: one object per thread.
  double log_posterior(double log_top_speed, double log_time_constant) override;
  /// As log_posterior; also the Gaussian of the active terms given (V, tau), symmetric.
  double condition(double log_top_speed, double log_time_constant, std::span<double> means,
                   std::span<double> covariance) override;

  const RunPatterns& patterns() const { return patterns_; }
  // At the sprint looked at last.
  const SprintTimes& at_distances() const { return times_; }
  std::span<const double> prior_means() const { return prior_mean_; }  ///< of the active terms
  /// T' A^-1 (y - T) of a day that is integrated out, and X' A^-1 T of it.
  double day_rhs(std::size_t day) const { return sums_.day_rhs[day]; }
  std::span<const double> day_cross(std::size_t day) const {
    return std::span(sums_.day_cross).subspan(day * patterns_.active.size(), patterns_.active.size());
  }
  /// Variance of the form of that day given the runs of it, all linear terms known; 0 where it is a term itself.
  double day_gain(std::size_t day) const;

 private:
  void set_joint_prior(const PlayerData& data);
  void evaluate(double log_top_speed, double log_time_constant);
  void set_times(const motion::Sprint& sprint);
  void set_times_and_means(double log_top_speed, double log_time_constant);
  void take_off_means();
  void integrate_days();
  void factor_terms();
  double with_prior(double log_likelihood, double log_top_speed, double log_time_constant) const;

  Normal prior_log_v_, prior_log_tau_;
  double day_cv_;
  SlowingSprints sprints_;
  TermMeans term_means_;
  std::vector<Normal> terms_;  // all
  RunPatterns patterns_;
  std::vector<double> active_sd_;
  double log_correlation_ = 0.0;
  std::vector<double> slopes_;               // 2 an active term; empty: none
  std::vector<double> inverse_correlation_;  // q x q, of the active terms given the sprint; empty: identity
  double log_det_correlation_ = 0.0;

  // Workspace of one evaluation.
  LinearSums sums_;
  PatternAdder adder_;
  SprintTimes times_;
  bool by_beam_ = false;  // some column is weighed by slowness
  std::vector<double> all_means_, prior_mean_, line_, factor_;
  double log_posterior_ = 0.0;
};

}  // namespace bagsplit::inference
