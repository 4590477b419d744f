#pragma once

#include <string>

#include "bagsplit/jobs/standings/standings.hpp"
#include "bagsplit/text/display.hpp"

/// Standings for people and for programs.
namespace bagsplit::present {

std::string standings_text(const jobs::StandingsResult& result, const text::TextOptions& options);

/// One row a player, in order: group, place, player, age_years, league_age, sex, runs_used, runs_of_course, mean, sd,
/// lo, median, hi and share_from_data of what is ordered, expected_rank, rank_lo, rank_hi, p_in_cut, tier, status,
/// next_runs, then the official best: best_s, recorded_s, class, watches, runs, best_date, official_place, tied.
/// Players not in the order follow with id and `not_ranked`, why.
std::string standings_csv(const jobs::StandingsResult& result);

/// Schema "bagsplit.standings/1" (data/schemas/standings.schema.json).
std::string standings_json(const jobs::StandingsResult& result);

}  // namespace bagsplit::present
