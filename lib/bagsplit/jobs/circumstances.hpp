#pragma once

#include <optional>
#include <span>
#include <string>

#include "bagsplit/runs/run.hpp"

/// What must be said of the runs that an answer pools: over how many weeks, in which winds.
namespace bagsplit::jobs {

/// Runs over more than so many days are no longer one state of a growing child: then it is said.
inline constexpr int most_days_unsaid = 28;

/// Whole weeks from the first run to the last, where they are worth a word.
std::optional<long> pooled_weeks(std::optional<runs::Date> first, std::optional<runs::Date> last);

/// What of a profile is of one day and what a mean of all.  @param asked  another day than the last.
std::string as_of_words(long weeks, bool asked);

/// Least and largest wind of the runs that give one.
struct WindRange {
  double least_mps = 0.0, most_mps = 0.0;
};

/// The range with one wind more; unchanged by NaN, which is none given.
void add_wind(std::optional<WindRange>& range, double wind_mps);

/// Winds that differ by so much are worth a word [m/s].
inline constexpr double winds_differ_mps = 2.0;

/// @param runs  indices into log.runs.   @return nothing where no run gives a wind.
std::optional<WindRange> wind_range(const runs::RunLog& log, std::span<const std::uint32_t> runs);

/// That winds are carried and not used, where they differ by winds_differ_mps or more; else empty.
std::string wind_words(const std::optional<WindRange>& range);

}  // namespace bagsplit::jobs
