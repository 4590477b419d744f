// Evidence of the Gaussian part: children given what the squad shares, then the squad; not installed.
#pragma once

#include <Eigen/Core>
#include <vector>

#include "bagsplit/inference/season/detail/units.hpp"

namespace bagsplit::season {

/// What a child says with its own states integrated out, as functions of the places of g that it touches.
struct ChildFit {
  Eigen::MatrixXd inverse = {};    ///< C^-1 of the units, n x n
  Eigen::MatrixXd weighted = {};   ///< C^-1 X, n x touched
  Eigen::VectorXd residual = {};   ///< C^-1 z
  Eigen::MatrixXd precision = {};  ///< X' C^-1 X
  Eigen::VectorXd shift = {};      ///< X' C^-1 z
  double log_density = 0.0;        ///< of the child's readings at g = 0
};

/// @param slope_sd  of a line through the season beside growth; 0: none.
ChildFit fit_child(const Units& units, const Options& options, const Scales& scales, double slope_sd);

/// g with all children: covariance, mean and log evidence of the season.
struct SquadFit {
  Eigen::MatrixXd covariance = {};
  Eigen::VectorXd mean = {};
  double log_evidence = 0.0;
};

/// Rows and columns of `whole` at `places`.
Eigen::MatrixXd gather(const Eigen::MatrixXd& whole, const std::vector<Index>& places);
Eigen::VectorXd gather(const Eigen::VectorXd& whole, const std::vector<Index>& places);

/// Fits of all children (in `threads`); a child without readings has an empty one.
std::vector<ChildFit> fit_children(const std::vector<Units>& units, const Options& options, const Scales& scales,
                                   double slope_sd);

SquadFit fit_squad(const Design& design, const std::vector<ChildFit>& children, double evening_sd);

/// log evidence and its gradient in (log evening_sd, log form_sd, log effort_sd, log slope_sd).
double evidence_gradient(const Design& design, const std::vector<Units>& units, const Scales& scales,
                         Eigen::VectorXd& gradient);

/// Scales that the season and their priors find most likely.
Scales fit_scales(const Design& design, const std::vector<Units>& units, const Scales& start);
/// log prior of scales, in their logarithms.
double log_prior(const Options& options, const Scales& scales);

}  // namespace bagsplit::season
