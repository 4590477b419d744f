#pragma once

#include <cstddef>
#include <span>
#include <vector>

#include "bagsplit/inference/likelihood/detail/run_patterns.hpp"

/// What all runs say of the linear terms at one sprint; stays inside the module.
namespace bagsplit::inference {

/// Sums over runs with A^-1 of run_patterns.hpp; residuals y - T. A is D plus rank R + 1, so its inverse and
/// determinant come from an (R+1) x (R+1) Cholesky factor (Woodbury).
struct LinearSums {
  LinearSums(std::size_t terms, std::size_t days);

  void clear();

  double quadratic = 0.0, log_det = 0.0;
  std::vector<double> precision;      ///< X' A^-1 X, q x q, upper half
  std::vector<double> rhs;            ///< X' A^-1 (y - T)
  std::vector<double> day_cross;      ///< X' A^-1 T of each day that is integrated out, days x q
  std::vector<double> day_column;     ///< the same of the day that is a term
  std::vector<double> day_precision;  ///< T' A^-1 T of each day
  std::vector<double> day_rhs;        ///< T' A^-1 (y - T) of each day
};

/// Adds one pattern after the other. Holds a workspace: one object a thread.
class PatternAdder {
 public:
  PatternAdder(const RunPatterns& all, double effort_cv);

  void add(const RunPattern& pattern, const SprintTimes& sprint, LinearSums& sums);

 private:
  void weigh_columns(const RunPattern& pattern, const SprintTimes& sprint);
  void weigh_times(const RunPattern& pattern, std::span<const double> times_s);
  void factor_noise(const RunPattern& pattern);
  void add_precision(const RunPattern& pattern, LinearSums& sums);
  void add_group(const RunPattern& pattern, const RunGroup& group, LinearSums& sums);
  void add_scatter(const RunPattern& pattern, LinearSums& sums);

  const RunPatterns& all_;
  double effort_cv_;
  // X, X' W X and B' W X of the pattern: its own, or with some columns weighed.
  const double *x_ = nullptr, *x_w_x_ = nullptr, *b_w_x_ = nullptr;
  struct Weighed {
    std::vector<double> x, x_w_x, b_w_x;
  };
  std::vector<Weighed> weighed_;      // one a pattern; empty where no column is weighed
  double t_w_t_ = 0.0, t_a_t_ = 0.0;  // T' W T, T' A^-1 T
  std::vector<double> t_, w_t_;       // T and W T
  std::vector<double> xt_;            // X' W T, then X' A^-1 T
  std::vector<double> m_;             // factor of I + U' W U, U = [cv T, B], k x k
  std::vector<double> xs_, ts_, ys_;  // U' W X, U' W T, U' W y through the factor
  std::vector<double> line_, q_;
};

}  // namespace bagsplit::inference
