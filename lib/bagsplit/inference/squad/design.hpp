#pragma once

#include <cstdint>
#include <span>
#include <vector>

#include "bagsplit/inference/posterior/posterior.hpp"

/// What one more run would tell: the posterior SD to expect after it, before it is run.
namespace bagsplit::inference {

/// A run that could be timed next. Its linear terms are those of the player's data, by bit.
struct CandidateRun {
  bool signal = false;
  double beam_m = 0.0;
  double start_sd_s = 0.0;
  double extra_bias_sd_s = 0.0;  ///< of a bias that no term of the data stands for
  std::vector<MarkData> marks;   ///< time_s is not used
};

/// Gaussian summary of the posterior over x = (log V, log tau, all linear terms). Inactive terms follow the sprint and
/// the others as the joint prior ties them.
struct Linearised {
  motion::Sprint centre{};         ///< posterior medians, near enough: exp of the mean logarithms
  std::vector<double> covariance;  ///< (2 + p) x (2 + p), row-major, p = PlayerData::terms.size()
};
/// @param term_means  of the posterior.
Linearised linearise(const Posterior& posterior, const TermMeans& term_means = {});

/// Covariance after `runs` candidates of one kind on one new day: C - C J' (J C J' + A)^-1 J C, J the gradient of the
/// times at the centre. Exact for a linear model; for the sprint, within a few per cent of the mean over simulated runs
/// (design_test).
/// @return (2 + p) x (2 + p), row-major.
std::vector<double> covariance_after(const Posterior& posterior, const Linearised& now, const CandidateRun& candidate,
                                     int runs);

/// SD of a linear function of x.  @param gradient  2 + p values.
double sd_of(std::span<const double> covariance, std::span<const double> gradient);

}  // namespace bagsplit::inference
