#pragma once

#include <functional>
#include <string>
#include <vector>

#include "bagsplit/jobs/trend/trend.hpp"
#include "bagsplit/text/display.hpp"

/// A trend for people and for programs.
namespace bagsplit::present {

/// What is compared: "home-first at first", "reaction (time at the first move of runs started on a signal), all
/// courses".
std::string trend_words(const jobs::TrendResult& result);

/// What would help where it cannot be told, each with the players it holds for.  @param shown  an id as it is to be
/// shown; empty: as it is.
std::vector<std::string> trend_help(const jobs::TrendResult& result,
                                    const std::function<std::string(const std::string&)>& shown);

std::string trend_text(const jobs::TrendResult& result, const text::TextOptions& options);

/// One row a player: player, age_first_years, age_last_years, sex, runs_first, runs_middle, runs_last, then estimate,
/// se, df, lo, hi of change_s, shrunken_change_s and beyond_growth_s, expected_growth_s, expected_growth_sd_s,
/// p_worthwhile, p_slower, p_value, q_value, verdict, more_runs. Empty where the data tell nothing.
std::string trend_csv(const jobs::TrendResult& result);

/// Schema "bagsplit.trend-mark/1" (data/schemas/trend-mark.schema.json). A change is {estimate, se, df, lo, hi} or
/// null; df is null where it is infinite.
std::string trend_json(const jobs::TrendResult& result);

}  // namespace bagsplit::present
