#include "bagsplit/jobs/circumstances.hpp"

#include <algorithm>
#include <cmath>

#include "bagsplit/text/number_chars.hpp"

namespace bagsplit::jobs {

std::optional<long> pooled_weeks(std::optional<runs::Date> first, std::optional<runs::Date> last) {
  if (!first || !last || (*last - *first).count() <= most_days_unsaid) {
    return std::nullopt;
  }
  return std::lround(static_cast<double>((*last - *first).count()) / 7.0);
}

std::string pooled_weeks_words(std::optional<runs::Date> first, std::optional<runs::Date> last) {
  const auto weeks = pooled_weeks(first, last);
  if (!weeks) {
    return {};
  }
  return "These values average " + std::to_string(*weeks) +
         " weeks: a child who grew or trained meanwhile may by now be better or worse than they say. "
         "The runs of the last two weeks alone tell recent form; the change across weeks tells who changed.";
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
  return "Winds from " + text::plain_fixed(range->least_mps, 1) + " to " + text::plain_fixed(range->most_mps, 1) +
         " m/s (above 0 from behind) stand in the log and are not used: no time is corrected, so a run before the wind "
         "counts as a faster child.";
}

}  // namespace bagsplit::jobs
