#pragma once

#include <Eigen/Core>
#include <cstddef>
#include <optional>
#include <string>
#include <vector>

#include "bagsplit/stats/fit_status.hpp"
#include "bagsplit/stats/t_interval.hpp"

/// One contrast for each of many groups (each player's change), all with one pooled error.
///
///   y_i = u_i' theta_g(i) + x_i' beta + b_block(i) + e_i,    b ~ N(0, sigma_b^2),  e ~ N(0, sigma^2)
///
///   symbol   meaning                                                                    size
///   u        own columns: each group has its own fixed coefficients theta_g for them    n x k
///   x        shared columns (sessions, conditions), one beta for all groups             n x p, sparse
///   b        what the rows of a block share (a player's form of the day)                one a block
///   lambda   sigma_b^2 / sigma^2
///
/// It is a linear mixed model with g k + p fixed effects; mixed_model.hpp fits the same one, but not with thousands of
/// groups. Here the theta_g are eliminated group by group, so that a group costs a few small matrices.
///
/// Shared columns that the own columns can imitate (one effect a session beside one mean a player) have no unique beta.
/// The first `balanced` columns then take the smallest sum of squares: with sessions and windows their effects add up
/// to 0 within a window, and the contrast of a group compares the average session of one window with that of the other.
/// A shared column beyond those that cannot be told from the own columns is left out and named in `confounded`.
///
/// Method: REML over lambda alone (sigma profiled out); Satterthwaite's df from the curvature of the unprofiled
/// criterion in (sigma^2, lambda), which is what lmerTest computes.
/// Assumes: normal errors, one error variance, one block variance.
/// Small samples: with fewer than about 5 degrees of freedom between blocks lambda is hardly known and often 0: the
/// caller should give `block_sd`. Source: Patterson & Thompson (1971), Biometrika 58:545-554; Kuznetsova, Brockhoff &
/// Christensen (2017), J Stat Softw 82(13), doi:10.18637/jss.v082.i13.
namespace bagsplit::stats {

struct SharedEntry {
  int column;
  double value;
};

/// What is known of shared coefficients from elsewhere: row' beta = value, with a standard error.
struct SharedKnowledge {
  std::vector<SharedEntry> row;
  double value = 0.0;
  double sd = 0.0;  ///< > 0, in the unit of the response
};

struct GroupContrastSpec {
  std::vector<double> response;                  ///< n, finite
  std::vector<int> group;                        ///< n labels 0, 1, ...
  std::vector<int> block;                        ///< n labels 0, 1, ...; a block lies within one group
  Eigen::MatrixXd own;                           ///< n x k, k >= 1
  std::vector<std::vector<SharedEntry>> shared;  ///< n sparse rows; empty for none
  int shared_columns = 0;                        ///< p
  int balanced = 0;                              ///< the first so many shared columns are of smallest sum of squares
  std::vector<SharedKnowledge> knowledge;        ///< of shared columns
  Eigen::VectorXd contrast;                      ///< k weights of a group's own coefficients
  std::vector<std::vector<SharedEntry>> directions;  ///< combinations of shared columns to report
};

struct GroupContrastOptions {
  double level = 0.95;
  std::optional<double> block_sd;     ///< sigma_b where it is known or cannot be estimated; none: by REML
  std::optional<double> residual_sd;  ///< sigma, used only where no degree of freedom is left for it
  double least_residual_sd = 0.0;     ///< floor of sigma: what rounding may hide
};

struct SharedEstimate {
  double estimate;
  double se;
};

struct GroupContrastFit {
  FitStatus status = FitStatus::failed;
  std::string message;                              ///< one line for people
  std::vector<std::optional<TEstimate>> contrasts;  ///< a group; none where its own columns do not allow the contrast
  std::optional<TEstimate> mean;                    ///< of the contrasts over all groups that have one
  double residual_sd = 0.0;
  double block_sd = 0.0;
  double residual_df = 0.0;     ///< n - p; infinite where residual_sd was given
  std::size_t within_df = 0;    ///< degrees of freedom within blocks: with none, blocks and residuals are one
  std::size_t between_df = 0;   ///< and between blocks: with few, block_sd is hardly known
  bool residual_given = false;  ///< options.residual_sd was used
  std::vector<std::optional<SharedEstimate>> shared;      ///< p; none where left out
  std::vector<int> confounded;                            ///< shared columns left out
  std::vector<std::optional<SharedEstimate>> directions;  ///< as asked for
  std::vector<std::optional<double>> direction_known_sd;  ///< SD of a direction from `knowledge` alone; none if unknown
};

/// @throws std::invalid_argument for sizes that do not match or a block in two groups, std::domain_error for values not
/// finite. Status too_few_data when no degree of freedom is left and no residual_sd given.
/// Accuracy: as lmerTest to 5 digits or more (group_contrasts_test).  Cost: 40 evaluations of O(n (k + active
/// columns)^2) at most, and the cube of the largest set of connected shared columns.
GroupContrastFit fit_group_contrasts(const GroupContrastSpec& spec, const GroupContrastOptions& options = {});

}  // namespace bagsplit::stats
