#pragma once

#include "bagsplit/jobs/path/path_plan.hpp"
#include "bagsplit/jobs/profile/profile.hpp"
#include "bagsplit/present/chart/canvas.hpp"

namespace bagsplit::present::chart {

/// The diamond with the best path for the player's own sprint, a band as wide as the runner is fast, strokes across it
/// every second, and on each leg what the player loses there against a straight sprint.
/// @param plan  usable.
text::Markup diamond(const Caption& caption, const jobs::PathPlan& plan, const jobs::PlayerProfile& player);

/// The key of the loss on the leg of the plan that ends at a bag: "second", or as the course differs "second-stop";
/// empty when there is none.
std::string loss_key(const jobs::PlayerProfile& player, std::size_t leg);

}  // namespace bagsplit::present::chart
