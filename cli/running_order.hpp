#pragma once

#include <optional>
#include <string>
#include <vector>

#include "bagsplit/runs/player.hpp"
#include "bagsplit/text/problem.hpp"

namespace bagsplit::cli {

/// Player ids in the order of running: the lines of a file (an id or a bib each; `#` begins a remark, of a CSV line the
/// first field counts), or without one the roster's players as they stand.
std::vector<std::string> running_order(const std::string& file, const runs::Roster& roster, text::Problems& problems);

/// The roster of --roster with its problems; empty when there is none.
runs::Roster read_named_roster(const std::optional<std::string>& file, std::optional<runs::Date> today,
                               text::Problems& problems);

}  // namespace bagsplit::cli
