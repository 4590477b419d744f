#pragma once

#include <optional>
#include <span>
#include <vector>

#include "bagsplit/stats/fit_status.hpp"

/// Shrinking many noisy means towards their common mean.
///
/// Source: James & Stein (1961), Proc 4th Berkeley Symp 1:361-379; Efron & Morris (1975), J Am Stat Assoc 70:311-319,
/// doi:10.1080/01621459.1975.10479864; DerSimonian & Laird (1986), Control Clin Trials 7:177-188; Morris (1983), J Am
/// Stat Assoc 78:47-55.
namespace bagsplit::stats {

struct JamesStein {
  double mean;    ///< grand mean
  double factor;  ///< c: estimate = mean + c (y - mean); in [0, 1]
  std::vector<double> estimates;
};

/// James-Stein towards the grand mean, c = max(0, 1 - (k - 3) variance / sum (y - mean)^2).
/// @param y k means, all with the same known sampling variance.  k < 4: none (it would not help).  All equal: c = 0.
std::optional<JamesStein> james_stein(std::span<const double> y, double variance);

enum class BetweenVariance {
  dersimonian_laird,  ///< by moments, no iteration
  reml,               ///< restricted maximum likelihood
};

/// Empirical Bayes with known, possibly different, sampling variances: y_i ~ N(theta_i, v_i), theta_i ~ N(mu, tau2).
struct NormalShrinkage {
  FitStatus status;  ///< at_boundary when tau2 = 0: then every estimate is mu
  double tau2;
  double mu;
  double mu_se;
  double q;                        ///< Cochran's Q, k - 1 df when tau2 = 0
  std::vector<double> factor;      ///< B_i = v_i / (v_i + tau2): 0 keeps y_i, 1 gives mu
  std::vector<double> estimates;   ///< mu + (1 - B_i)(y_i - mu)
  std::vector<double> se_plug_in;  ///< sqrt((1 - B_i) v_i): mu and tau2 taken as known; too small, 0 at the boundary
  std::vector<double> se;          ///< with the uncertainty of mu, sqrt((1 - B_i) v_i + B_i^2 var mu)
  std::optional<double> log_likelihood;  ///< restricted, for reml
};

/// @param y k means, @param variances k sampling variances > 0.  k < 2: none.
/// Small samples: with k < 10 the data hardly know tau2, and tau2 = 0 does not mean that all are equal; neither SE
/// carries that. A full posterior does (use it where it matters). Cost: O(k) an evaluation, about 100 evaluations for
/// reml.
std::optional<NormalShrinkage> normal_shrinkage(std::span<const double> y, std::span<const double> variances,
                                                BetweenVariance method = BetweenVariance::reml);

}  // namespace bagsplit::stats
