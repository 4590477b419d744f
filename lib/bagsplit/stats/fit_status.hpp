#pragma once

#include <string_view>

namespace bagsplit::stats {

/// How an iterative fit ended. A hard problem is a status, never a thrown exception and never a bare NaN.
enum class FitStatus {
  converged,            ///< optimum found, interior
  at_boundary,          ///< optimum found, with a variance at 0 or a correlation at -1 or 1 (a "singular" fit)
  limited_by_rounding,  ///< no further progress is possible in double precision; close to an optimum
  hit_iteration_limit,  ///< stopped early; the estimates are where it stopped
  not_identifiable,     ///< the data cannot tell the parameters apart; the message says which
  too_few_data,         ///< fewer observations than the model needs; nothing was fitted
  failed,               ///< the function could not be evaluated, or no optimum exists
};

/// A stable word for output: "converged", "at-boundary", ...
constexpr std::string_view word(FitStatus status) {
  switch (status) {
    case FitStatus::converged:
      return "converged";
    case FitStatus::at_boundary:
      return "at-boundary";
    case FitStatus::limited_by_rounding:
      return "limited-by-rounding";
    case FitStatus::hit_iteration_limit:
      return "hit-iteration-limit";
    case FitStatus::not_identifiable:
      return "not-identifiable";
    case FitStatus::too_few_data:
      return "too-few-data";
    case FitStatus::failed:
      return "failed";
  }
  return "failed";
}

/// Whether the estimates may be used (an optimum was found).
constexpr bool usable(FitStatus status) {
  return status == FitStatus::converged || status == FitStatus::at_boundary || status == FitStatus::limited_by_rounding;
}

}  // namespace bagsplit::stats
