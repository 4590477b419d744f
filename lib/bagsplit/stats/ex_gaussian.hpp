#pragma once

#include <optional>
#include <span>
#include <string>

#include "bagsplit/stats/fit_status.hpp"

/// The ex-Gaussian: a normal plus an independent exponential, the usual description of reaction times.
///
///   symbol   meaning                               unit
///   mu       mean of the normal part               that of the data
///   sigma    its SD
///   tau      mean of the exponential part (the slow tail)
///
/// mean mu + tau, variance sigma^2 + tau^2, skewness 2 tau^3 / (sigma^2 + tau^2)^1.5.
/// Source: Luce (1986), Response Times, Oxford; Heathcote, Popiel & Mewhort (1991), Psychol Bull 109:340-347;
/// Lacouture & Cousineau (2008), Tutor Quant Methods Psychol 4:35-45.
namespace bagsplit::stats {

struct ExGaussian {
  double mu;
  double sigma;
  double tau;

  double mean() const { return mu + tau; }
  double variance() const { return sigma * sigma + tau * tau; }
};

/// Log density at x. sigma > 0, tau > 0; keeps its digits for tau far below or above sigma.
double ex_gaussian_log_density(double x, const ExGaussian& parameters);
/// P(X <= x).
double ex_gaussian_cdf(double x, const ExGaussian& parameters);

struct ExGaussianOptions {
  std::size_t fewest = 10;  ///< with fewer values nothing is fitted; raise it where the tail matters
  int max_iterations = 500;
};

struct ExGaussianFit {
  FitStatus status = FitStatus::failed;
  std::string message;
  ExGaussian parameters{};
  std::optional<ExGaussian> se;  ///< from the curvature at the optimum; none at a boundary
  double log_likelihood = 0.0;
  std::optional<ExGaussian> start;  ///< moment estimates that the search began from
  int iterations = 0;
};

/// Maximum likelihood, started from the moments.
///
/// Status: converged; at_boundary when the likelihood rises towards tau = 0 (no slow tail: a normal fits as well) or
/// sigma = 0 (a bare exponential); too_few_data; failed when all values are equal. Small samples: below about 40 values
/// sigma and tau trade off against each other and tau is often at a boundary; below 100 read the standard errors first.
/// The mean mu + tau is well determined even then.
/// @throws std::domain_error on NaN.  Cost: about 50 evaluations, O(n) each.
ExGaussianFit fit_ex_gaussian(std::span<const double> values, const ExGaussianOptions& options = {});

}  // namespace bagsplit::stats
