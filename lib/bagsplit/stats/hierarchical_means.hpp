#pragma once

#include <optional>
#include <span>
#include <vector>

/// Many noisy means and the normal distribution they come from, with its spread integrated out rather than plugged in.
///
///   y_i ~ N(theta_i, v_i),   theta_i ~ N(mu, tau^2),   mu flat,   tau half-normal or flat
///
/// Given tau everything is normal; tau is integrated over a grid, so that theta_i is a mixture of normals. With few
/// means (k < 10) the data hardly know tau, and an estimate of 0 plugged in (shrinkage.hpp) would claim that all are
/// equal; here that is one possibility among others, and intervals keep their level.
///
/// Assumes: normal, independent sampling errors; variances known, or known up to one estimated scale.
/// Small samples: k = 1 and k = 2 with a flat prior of tau: none (the posterior does not exist below k = 3). With a
/// half-normal prior any k: k = 1 gives y itself, as mu is flat.
/// Source: Gelman, Carlin, Stern & Rubin (1995), Bayesian Data Analysis, section 5.4; Rubin (1981), J Educ Stat
/// 6:377-401.
namespace bagsplit::stats {

/// One theta: a mixture of normals.
class MixtureOfNormals {
 public:
  MixtureOfNormals() = default;
  MixtureOfNormals(std::span<const double> weights, std::vector<double> means, std::vector<double> sds);
  double mean() const;
  double sd() const;
  double below(double x) const;     ///< P(theta <= x)
  double quantile(double p) const;  ///< @throws std::domain_error unless 0 < p < 1. Accuracy: 1e-9 of the SD
  /// The same with an independent normal error added to each part.  @param extra_sd >= 0.
  MixtureOfNormals widened(double extra_sd) const;

 private:
  std::vector<double> weights_, means_, sds_;
};

struct HierarchicalMeans {
  std::vector<MixtureOfNormals> theta;  ///< in the order of y
  MixtureOfNormals mu;
  MixtureOfNormals
      next;  ///< theta of a further member without data; with a flat prior and k < 5 it has no SD: its quantiles count
  std::optional<double> tau_mean;  ///< none where it does not exist: a flat prior and k = 3
  std::optional<double> tau_sd;    ///< none with a flat prior and k < 5
};

/// @param y k means, @param variances k sampling variances > 0.
/// @param tau_scale  scale of the half-normal prior of tau, > 0; none for a flat prior (needs k >= 3).
/// @param variance_df  > 0: the variances are estimates that share one scale, known with so many degrees of freedom;
/// the scale is integrated out over its posterior, df / chi-square(df) times the estimates. None: they are known. None
/// where the posterior does not exist.  Cost: O(k) for each of 120 values of tau, or 40 times 9 with variance_df.
std::optional<HierarchicalMeans> hierarchical_means(std::span<const double> y, std::span<const double> variances,
                                                    std::optional<double> tau_scale,
                                                    std::optional<double> variance_df = std::nullopt);

}  // namespace bagsplit::stats
