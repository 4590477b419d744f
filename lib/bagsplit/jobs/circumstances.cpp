#include "bagsplit/jobs/circumstances.hpp"

#include <algorithm>
#include <cmath>

#include "bagsplit/text/number_text.hpp"

namespace bagsplit::jobs {

std::optional<long> pooled_weeks(std::optional<runs::Date> first, std::optional<runs::Date> last) {
  if (!first || !last || (*last - *first).count() <= most_days_unsaid) {
    return std::nullopt;
  }
  return std::lround(static_cast<double>((*last - *first).count()) / 7.0);
}

std::string as_of_words(long weeks, bool asked) {
  return std::string("Speed, acceleration and times are those of ") + (asked ? "the day asked for" : "the last day") +
         ": growth and change over the " + std::to_string(weeks) +
         " weeks are counted in. Reaction, getting up and losses at the bags are means of all these weeks.";
}

void add_wind(std::optional<WindRange>& range, double wind_mps) {
  if (std::isnan(wind_mps)) {
    return;
  }
  range = range ? WindRange{std::min(range->least_mps, wind_mps), std::max(range->most_mps, wind_mps)}
                : WindRange{wind_mps, wind_mps};
}

std::optional<WindRange> wind_range(const runs::RunLog& log, std::span<const std::uint32_t> runs) {
  std::optional<WindRange> out;
  for (const std::uint32_t i : runs) {
    add_wind(out, static_cast<double>(log.runs[i].wind_mps));
  }
  return out;
}

std::string wind_words(const std::optional<WindRange>& range) {
  if (!range || range->most_mps - range->least_mps < winds_differ_mps) {
    return {};
  }
  return "Winds from " + text::fixed(range->least_mps, 1) + " to " + text::fixed(range->most_mps, 1) +
         " m/s (above 0 from behind) stand in the log and are not used: no time is corrected, so a run before the wind "
         "counts as a faster child.";
}

}  // namespace bagsplit::jobs
