#include "bagsplit/stats/spread.hpp"

#include <algorithm>
#include <cmath>
#include <numeric>
#include <vector>

#include "bagsplit/stats/detail/check.hpp"
#include "bagsplit/stats/distributions.hpp"
#include "bagsplit/stats/univariate.hpp"

namespace bagsplit::stats {

SdEstimate sd_interval(double sd, double df, double level) {
  check::not_negative("sd_interval", "sd", sd);
  check::positive("sd_interval", "df", df);
  check::open_unit("sd_interval", "level", level);
  const double tail = 0.5 - 0.5 * level;
  return {
      sd,
      df,
      {sd * std::sqrt(df / chi_square_quantile(1.0 - tail, df)), sd * std::sqrt(df / chi_square_quantile(tail, df))}};
}

std::optional<SdEstimate> sample_sd(std::span<const double> values, double level) {
  check::open_unit("sample_sd", "level", level);
  const auto sd = standard_deviation(values);
  return sd ? std::optional(sd_interval(*sd, static_cast<double>(values.size() - 1), level)) : std::nullopt;
}

std::optional<SdEstimate> pooled_within_sd(std::span<const double> values, std::span<const int> group, double level) {
  check::open_unit("pooled_within_sd", "level", level);
  check::same_size("pooled_within_sd", "values", values.size(), "group", group.size());
  check::all_finite("pooled_within_sd", "values", values);
  std::vector<std::size_t> order(values.size());
  std::iota(order.begin(), order.end(), std::size_t{0});
  std::stable_sort(order.begin(), order.end(), [&](std::size_t a, std::size_t b) { return group[a] < group[b]; });
  std::vector<double> one;
  double squares = 0.0;
  double df = 0.0;
  for (std::size_t begin = 0; begin < order.size();) {
    one.clear();
    std::size_t end = begin;
    for (; end < order.size() && group[order[end]] == group[order[begin]]; ++end) {
      one.push_back(values[order[end]]);
    }
    // Sorted within a group, so that the order of rows cannot change the last bit.
    std::sort(one.begin(), one.end());
    squares += sum_of_squares_about(one, wide_mean(one));
    df += static_cast<double>(one.size() - 1);
    begin = end;
  }
  return df > 0.0 ? std::optional(sd_interval(std::sqrt(squares / df), df, level)) : std::nullopt;
}

}  // namespace bagsplit::stats
