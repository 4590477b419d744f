#pragma once

#include <map>
#include <optional>
#include <string>
#include <vector>

#include "bagsplit/norms/catalogue.hpp"
#include "bagsplit/runs/player.hpp"
#include "bagsplit/sprint/curve.hpp"
#include "bagsplit/sprint/model.hpp"

/// What is believed of a player's sprint before any run is seen: priors for log V, log tau and RT by age and sex, derived
/// from the published tables by the code of this file.
namespace bagsplit::sprint {

struct SprintPrior {
  Normal log_top_speed;      ///< log V, V in m/s
  Normal log_time_constant;  ///< log tau, tau in s; independent of log V
  Normal reaction_s;         ///< RT, signal to first move, whole body
  std::map<std::string, Normal, std::less<>> posture_cost_s;  ///< G for split, crouch, prone, swing (standing is 0)
  Normal swing_finish_s;     ///< C, for contact starts
  std::string source;        ///< one or two sentences: which tables, and what is uncertain
};

/// Prior for a player. Without sex the two sexes are pooled, without age 6-18 years, both widened accordingly and said so
/// in `source`. From 18 on the adult prior: the curve's last value, wider.
/// @param age_years >= 0, finite.   @throws std::domain_error.   Cost: below 2 microseconds, no I/O.
SprintPrior sprint_prior(std::optional<double> age_years, std::optional<runs::Sex> sex);

}  // namespace bagsplit::sprint
