#pragma once

#include <map>
#include <string>

#include "season.hpp"

/// A relay night of the invented squad, apart from the season's logs: two teams, three relays.
namespace demo_season {

/// Mean exchange of each child in truth [s]: touch to first move.
double relay_exchange_s(const Child& child);

/// Folder to file name to text: what stands under data/demo/relay.
std::map<std::string, std::string> relay_night(const Season& season);

}  // namespace demo_season
