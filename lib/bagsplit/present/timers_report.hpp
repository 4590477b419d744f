#pragma once

#include <string>

#include "bagsplit/jobs/timers/timers.hpp"
#include "bagsplit/text/display.hpp"

/// The reliability of the timing for people and for programs.
namespace bagsplit::present {

std::string timers_text(const jobs::TimersResult& result, const text::TextOptions& options);

/// One row a pair of readers: first, second, start, reference, runs, players, bias_s and its se, df, lo, hi,
/// sd_of_differences_s, the limits of agreement and their intervals, typical_error_s with interval, the six
/// coefficients with intervals, outliers. Empty where the data tell nothing.
std::string timers_csv(const jobs::TimersResult& result);

/// Schema "bagsplit.timers/1" (data/schemas/timers.schema.json).
std::string timers_json(const jobs::TimersResult& result);

}  // namespace bagsplit::present
