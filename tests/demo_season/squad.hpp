#pragma once

#include <string>
#include <vector>

#include "world.hpp"

/// The invented squad of the demo season.
namespace demo_season {

/// Fourteen children of 8 to 13, in roster order. What each of them is like, and why, stands beside the numbers.
std::vector<Child> squad();

/// The three who hold the watches.
std::vector<Timer> timers();

/// The roster as CSV text.
std::string roster_csv(const std::vector<Child>& children);

}  // namespace demo_season
