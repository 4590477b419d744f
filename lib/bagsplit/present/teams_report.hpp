#pragma once

#include <string>

#include "bagsplit/jobs/teams/teams.hpp"
#include "bagsplit/text/display.hpp"

/// Even teams for people and for programs.
namespace bagsplit::present {

std::string teams_text(const jobs::TeamsResult& result, const text::TextOptions& options);

/// One row a player: team, player, age, own runs, expected leg.
std::string teams_csv(const jobs::TeamsResult& result);

/// Schema "bagsplit.teams/1" (data/schemas/teams.schema.json).
std::string teams_json(const jobs::TeamsResult& result);

}  // namespace bagsplit::present
