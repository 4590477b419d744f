#pragma once

#include <string>

#include "bagsplit/jobs/trend/season_trend.hpp"
#include "bagsplit/text/display.hpp"

/// Who changed across weeks, for people and for programs.
namespace bagsplit::present {

/// A chance as it is said, rounded down: "19 in 20", "4 in 5", "2 in 3"; "less than 1 in 2" below a half.
std::string odds_words(double p);

/// What is compared: "home-first at first", "straight from 10m to 20m", "the reaction".
std::string trend_words(const jobs::SeasonTrend& result);

std::string season_text(const jobs::SeasonTrend& result, const text::TextOptions& options);

/// One row a player, the surest first: player, age_first_years, age_last_years, sex, times_early, times_between,
/// times_late, change_s and its lo, hi, growth_s.mean, growth_s.sd, beyond_growth_s.mean, .sd, .lo, .hi, p_faster,
/// p_slower, p_faster_total, p_as_growth, conditions_s, verdict. Empty where the data tell nothing. Seconds a week
/// where that was asked for.
std::string season_csv(const jobs::SeasonTrend& result);

/// Schema "bagsplit.trend/2" (data/schemas/trend.schema.json).
std::string season_json(const jobs::SeasonTrend& result);

}  // namespace bagsplit::present
