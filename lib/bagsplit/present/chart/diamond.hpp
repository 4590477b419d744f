#pragma once

#include "bagsplit/coach/path_plan.hpp"
#include "bagsplit/coach/profile.hpp"
#include "bagsplit/present/chart/canvas.hpp"

namespace bagsplit::present::chart {

/// The diamond with the best path for the player's own sprint, a band as wide as the runner is fast, strokes across it
/// every second, and on each leg what the player loses there against a straight sprint.
/// @param plan  usable.
Markup diamond(const Caption& caption, const coach::PathPlan& plan, const coach::PlayerProfile& player);

/// The key of the loss on the leg of the plan that ends at a bag: "second", or as the course differs "second-stop";
/// empty when there is none.
std::string loss_key(const coach::PlayerProfile& player, std::size_t leg);

}  // namespace bagsplit::present::chart
