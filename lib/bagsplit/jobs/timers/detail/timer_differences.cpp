#include "bagsplit/jobs/timers/detail/timer_differences.hpp"

#include <algorithm>
#include <cmath>

#include "bagsplit/runs/units.hpp"
#include "bagsplit/stats/quantile.hpp"
#include "bagsplit/text/text.hpp"

namespace bagsplit::jobs::detail {

namespace {

constexpr double same_mark_m = 0.005;
constexpr double robust_sds_off = 4.0;
constexpr std::size_t least_for_outliers = 6;
constexpr double mad_to_sd = 1.4826;  // of a normal distribution
constexpr double least_sd_s = 0.01;   // a watch shows hundredths
constexpr double same_difference_s = 1e-4;

double typed_s(double value_s) {
  return std::round(value_s / same_difference_s) * same_difference_s;
}

}  // namespace

std::optional<CommonMark> farthest_common_mark(const runs::RunLog& log, const runs::Reading& first,
                                               const runs::Reading& second, std::string_view mark) {
  const auto wanted_m = runs::parse_length_m(mark);
  std::optional<CommonMark> out;
  double farthest_m = -1.0;
  for (const runs::Split& x : log.splits_of(first)) {
    const bool wanted = mark.empty() || text::equal_ignoring_case(log.name(x.mark), mark) ||
                        (wanted_m && std::fabs(*wanted_m - x.distance_m) < same_mark_m);
    for (const runs::Split& y : log.splits_of(second)) {
      const bool same = !x.is_move && !y.is_move && std::fabs(x.distance_m - y.distance_m) < same_mark_m;
      if (wanted && same && x.distance_m > farthest_m) {
        farthest_m = x.distance_m;
        out = CommonMark{x.time_s, y.time_s, x.mark};
      }
    }
  }
  return out;
}

Outliers outliers_of(std::span<const double> differences_s) {
  Outliers out;
  out.far_off.assign(differences_s.size(), false);
  if (differences_s.empty()) {
    return out;
  }
  out.median_s = *stats::median(differences_s);
  std::vector<double> away_s;
  away_s.reserve(differences_s.size());
  for (const double difference_s : differences_s) {
    away_s.push_back(typed_s(std::fabs(difference_s - out.median_s)));
  }
  out.robust_sd_s = mad_to_sd * *stats::median(away_s);
  if (differences_s.size() < least_for_outliers) {
    return out;
  }
  const double limit_s = robust_sds_off * std::max(out.robust_sd_s, least_sd_s) + 0.5 * same_difference_s;
  for (std::size_t i = 0; i < away_s.size(); ++i) {
    out.far_off[i] = away_s[i] > limit_s;
  }
  return out;
}

}  // namespace bagsplit::jobs::detail
