#pragma once

#include <map>
#include <string>
#include <string_view>

#include "bagsplit/runs/player.hpp"
#include "bagsplit/runs/run.hpp"

namespace bagsplit::runs {

/// Makes players hard to recognise, before anything is computed, so that no later text can hold what was taken out.
///
/// Ids become codes such as "p-7kq2m", keyed by the salt: the same id and salt give the same code; without the salt
/// nobody can try out shirt numbers. Dates of birth become such that the age at the player's last run is a whole number
/// of half-years; without a run there is none. Names, bibs, teams, heights and masses go. Dates, places, timers and
/// times stay: whoever knows a child's times can know the child.
/// @param salt  not empty.   @return code by id.
std::map<std::string, std::string> anonymise(RunLog& log, Roster& roster, std::string_view salt);

}  // namespace bagsplit::runs
