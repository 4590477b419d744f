#pragma once

#include <string>

#include "bagsplit/coach/teams.hpp"
#include "bagsplit/present/display.hpp"

/// Even teams for people and for programs.
namespace bagsplit::present {

std::string teams_text(const coach::TeamsResult& result, const TextOptions& options);

/// One row a player: team, player, age, own runs, expected leg.
std::string teams_csv(const coach::TeamsResult& result);

/// Schema "bagsplit.teams/1" (data/schemas/teams.schema.json).
std::string teams_json(const coach::TeamsResult& result);

}  // namespace bagsplit::present
