#pragma once

#include <cstdint>
#include <span>

#include "bagsplit/basepath/surrogate.hpp"
#include "bagsplit/inference/posterior/posterior.hpp"
#include "bagsplit/inference/reading/best_path_losses.hpp"
#include "bagsplit/jobs/profile/profile.hpp"

/// A player's losses held against the player's own best path.
namespace bagsplit::jobs {

/// Measures a course against the player's own best path at the default limits: fills path_efficiency,
/// loss_to_best_path_s, the same by segment, and best_path of the profile; uncertainty of V, tau and the losses carried
/// through.
/// @param terms  of the course's segments, in order.   Nothing is filled where the sprint lies outside the table.
/// Accuracy: the table's, 6 ms at most for a course, 24 ms for one leg.
void measure_against_best_path(const inference::Posterior& posterior, const inference::LossMeans& means,
                               const basepath::LossTable& table, const runs::Course& course,
                               std::span<const std::uint32_t> terms, double level, PlayerProfile& profile);

}  // namespace bagsplit::jobs
