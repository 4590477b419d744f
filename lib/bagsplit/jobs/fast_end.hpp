#pragma once

#include <optional>
#include <span>
#include <vector>

#include "bagsplit/inference/prior/model.hpp"
#include "bagsplit/inference/squad/squad_times.hpp"
#include "bagsplit/runs/player.hpp"
#include "bagsplit/runs/roster/roster.hpp"
#include "bagsplit/runs/run.hpp"

/// How fast a child may be before a run of its own tells: for the run-out. Nineteen of twenty are slower.
namespace bagsplit::jobs {

/// Of a spread of log top speeds.
double fast_end_mps(const inference::Normal& log_top_speed);

/// [m/s]; unknown age or sex: both sexes, 6 to 18 years.
double fast_end_mps(std::optional<double> age_years, std::optional<runs::Sex> sex);

/// Faster than children of that many whole years run, up to 17: three SDs beyond the middle of their ages. For
/// runs::SuspicionLimits::fastest_of_age_mps.
std::vector<double> fastest_of_age_mps();

/// The fastest of all who run in the log, by what the roster says of them on the day of their last run.
double fast_end_mps(const runs::RunLog& log, const runs::Roster& roster);

/// The fastest of these.
double fast_end_mps(std::span<const inference::KnownPlayer> players);

}  // namespace bagsplit::jobs
