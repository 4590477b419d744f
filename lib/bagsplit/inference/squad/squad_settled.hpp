#pragma once

#include <string_view>

/// What is said wherever an answer stands on a squad's model that did not settle (inference::SquadFit::converged).
namespace bagsplit::inference {

inline constexpr std::string_view unsettled_squad =
    "The fit of the squad's scatter and of what its players share stopped before it settled: what follows from it is "
    "rough.";

}  // namespace bagsplit::inference
