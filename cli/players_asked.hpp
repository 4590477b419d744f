#pragma once

#include <string>
#include <vector>

#include "bagsplit/coach/profile.hpp"

namespace bagsplit::cli {

/// Keeps the players asked for, in that order.  @return what is wrong, or nothing.
std::string keep_players(const std::vector<std::string>& wanted, coach::ProfileResult& result);

}  // namespace bagsplit::cli
