#pragma once

#include <optional>
#include <string>

#include "bagsplit/jobs/night/night_plan.hpp"
#include "bagsplit/text/display.hpp"

/// A plan for people and for programs.
namespace bagsplit::present {

/// What `plan` worked out; either part may be absent.
struct Plan {
  std::optional<jobs::NightPlan> night;
  std::optional<jobs::RunsQuestion> question;
  jobs::RunsNeeded needed;
  std::string spread_from;            ///< where the SDs come from, a sentence
  std::optional<double> fastest_mps;  ///< fast end for the age, for the run-out; none: of an unknown age
};

std::string plan_text(const Plan& plan, const text::TextOptions& options);
/// One row a mix and quantity: mix, minutes, runs of each drill, quantity, sd_before, sd_expected, sd_simulated.
std::string plan_csv(const Plan& plan);
/// Schema "bagsplit.plan/1" (data/schemas/plan.schema.json).
std::string plan_json(const Plan& plan);

}  // namespace bagsplit::present
