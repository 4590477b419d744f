#pragma once

#include <array>
#include <string>
#include <string_view>

#include "bagsplit/jobs/standings/standings.hpp"
#include "input.hpp"
#include "invocation.hpp"

/// What an order is made by: options that the standings and their report share.
namespace bagsplit::cli {

/// What --by may be; a time has more words to it.
inline constexpr std::array<std::string_view, 6> quantity_words{"time",      "reaction",        "acceleration",
                                                                "top-speed", "path-efficiency", "index"};

void declare_standings_choice(Options& app, StandingsRequest& request);

/// What is wrong with them together; empty when nothing is.
std::string wrong_standings_choice(const StandingsRequest& request);

/// @param request  wrong_standings_choice() has nothing to say.
jobs::StandingsOptions standings_options(const StandingsRequest& request, const Inputs& inputs);

/// Players of the roster who have not run at all belong to those who should.
void add_idle(const Inputs& inputs, jobs::StandingsResult& result);

}  // namespace bagsplit::cli
