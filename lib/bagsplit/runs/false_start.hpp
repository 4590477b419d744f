#pragma once

#include "bagsplit/runs/run.hpp"

namespace bagsplit::runs {

/// Reaction below which a start counts as false [s].
/// Source: World Athletics Technical Rules 16.6; a flag for the officials there, not a verdict.
inline constexpr double false_start_threshold_s = 0.100;

/// How many SDs of press error a hand-timed reaction must lie below the threshold: one-sided 5%.
inline constexpr double hand_false_start_z = 1.6448536269514722;

/// The least reaction that is none [s]: 0.100 on `gate` and `video` evidence; on a hand watch less what the press error
/// can explain, 1.645 SDs: two presses of 0.07 s leave -0.06. A hand watch mostly cannot tell. League rules and
/// officials decide, not this number.
/// @param press_error_sd_s  SD of a hand-timed reaction [s], >= 0: of both presses.
/// @throws std::domain_error.
double least_reaction_s(Device device, double press_error_sd_s);

/// Whether a reaction is a false start: below that.
/// @param reaction_s  signal to first move [s], finite; may be negative (left too early).
/// @throws std::domain_error.
bool is_false_start(double reaction_s, Device device, double press_error_sd_s);

}  // namespace bagsplit::runs
