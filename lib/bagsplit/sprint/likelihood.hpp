#pragma once

#include <cstdint>
#include <functional>
#include <span>
#include <vector>

#include "bagsplit/motion/curve.hpp"
#include "bagsplit/sprint/player_data.hpp"

/// Marginal likelihood of one player's readings given (log V, log tau): every linear term and the form of each day
/// integrated out in closed form.
///
/// Noise of one run, readings r = 1..R over the marks of all of them (N in all):
///     A = D + cv^2 T T' + Z (s_start^2 I + s_RT^2 s s') Z',   D diagonal (s_split^2), Z_jr = 1 where mark j is of
///     reading r, s_r = 1 where reading r has a signal start;
/// linear terms beta ~ N(m, S), day effects delta_d ~ N(0, cv_day^2) multiplying T. A is D plus rank R + 1, so its
/// inverse and determinant come from an (R+1) x (R+1) Cholesky factor (Woodbury). Runs with the same marks, error sizes
/// and terms on the same day are exchangeable: they enter by their mean and scatter, so the cost does not grow with the
/// number of runs.
namespace bagsplit::sprint {

/// Prior means of the linear terms where they depend on the sprint (losses against the best path). Called with the
/// constants of PlayerData already in place; may overwrite any of them.
using TermMeans = std::function<void(const motion::Sprint&, std::span<double>)>;

class PlayerLikelihood {
 public:
  /// Prepares the sufficient statistics. @throws as validate(). Cost: O(marks).
  explicit PlayerLikelihood(const PlayerData& data, TermMeans term_means = {});

  /// Linear terms that at least one reading depends on, ascending: the others keep their prior.
  std::span<const std::uint32_t> active_terms() const { return active_; }
  std::size_t mark_count() const { return mark_count_; }

  /// log p(readings | log V, log tau) + log prior density of (log V, log tau). Not thread-safe: one object per thread.
  double log_posterior(double log_top_speed, double log_time_constant);

  /// As log_posterior; also the Gaussian of the active terms given (V, tau).
  /// @param means  q values.  @param covariance  q x q, row-major, symmetric; q = active_terms().size().
  double condition(double log_top_speed, double log_time_constant, std::span<double> means,
                   std::span<double> covariance);

 private:
  struct Group {
    std::uint32_t day = 0;
    double n = 0.0;
    double y_w_y = 0.0;
    std::vector<double> mean;   // N
    std::vector<double> x_w_y;  // qa
    std::vector<double> b_w_y;  // R
  };
  struct Pattern {
    std::size_t marks = 0;                  // N
    std::size_t readings = 0;               // R
    std::vector<std::uint32_t> time_index;  // N, into times_
    std::vector<std::uint32_t> beam_index;  // N, into times_; no_index for none
    std::vector<double> weight;             // N, 1/sd^2
    std::vector<std::uint32_t> terms;       // qa, into active_
    std::vector<double> x;                  // N x qa, 0 or 1
    std::vector<double> b;                  // N x R: Z times the Cholesky factor of the reading effects
    std::vector<double> x_w_x, b_w_x, b_w_b;
    std::vector<double> scatter;      // N x N, D^-1 W D^-1; empty when no group has two runs
    std::vector<double> scatter_b;    // N x R
    std::vector<double> b_scatter_b;  // R x R
    double scatter_trace = 0.0;       // tr(D^-1 W)
    double log_det_d = 0.0;
    double runs = 0.0;
    std::vector<Group> groups;
  };

  void evaluate(double log_top_speed, double log_time_constant);
  void add_pattern(const Pattern& pattern);

  Normal prior_log_v_, prior_log_tau_;
  double effort_cv_, day_cv_;
  std::size_t mark_count_ = 0;
  TermMeans term_means_;
  std::vector<Normal> terms_;          // all
  std::vector<std::uint32_t> active_;  // into terms_
  std::vector<double> active_sd_;
  double log_correlation_ = 0.0;
  std::vector<double> slopes_;               // 2 an active term; empty: none
  std::vector<double> inverse_correlation_;  // q x q, of the active terms given the sprint; empty: identity
  double log_det_correlation_ = 0.0;
  std::uint32_t day_place_ = 0;    // place of the day term among the active ones
  std::uint32_t kept_day_ = 0;     // its day; days_ when there is none
  std::vector<double> distances_;  // distinct, of marks and beams
  std::vector<Pattern> patterns_;
  std::size_t days_ = 0;

  // Workspace of one evaluation.
  std::vector<double> times_, all_means_, prior_mean_, t_, w_t_, xt_, m_, xs_, ts_, ys_, q_;
  std::vector<double> precision_, rhs_, line_, day_cross_, day_column_, day_precision_, day_rhs_, factor_;
  double quadratic_ = 0.0, log_det_ = 0.0, log_posterior_ = 0.0;
};

}  // namespace bagsplit::sprint
