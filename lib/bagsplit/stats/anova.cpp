#include "bagsplit/stats/anova.hpp"

#include <algorithm>
#include <cmath>
#include <numeric>
#include <vector>

#include "bagsplit/stats/check.hpp"
#include "bagsplit/stats/distributions.hpp"
#include "bagsplit/stats/univariate.hpp"

namespace bagsplit::stats {

std::optional<OneWayAnova> one_way_anova(std::span<const double> values, std::span<const int> group) {
  check::same_size("one_way_anova", "values", values.size(), "group", group.size());
  check::all_finite("one_way_anova", "values", values);
  std::vector<std::size_t> order(values.size());
  std::iota(order.begin(), order.end(), std::size_t{0});
  std::sort(order.begin(), order.end(), [&](std::size_t a, std::size_t b) {
    return group[a] != group[b] ? group[a] < group[b] : values[a] < values[b];
  });
  std::vector<double> sorted(values.size());
  for (std::size_t i = 0; i < order.size(); ++i) {
    sorted[i] = values[order[i]];
  }
  if (values.empty()) {
    return std::nullopt;
  }
  const Wide grand = wide_mean(sorted);
  double groups = 0.0;
  double squared_sizes = 0.0;
  std::vector<double> between;
  double ss_within = 0.0;
  for (std::size_t begin = 0; begin < sorted.size();) {
    std::size_t end = begin;
    while (end < sorted.size() && group[order[end]] == group[order[begin]]) {
      ++end;
    }
    const auto one = std::span(sorted).subspan(begin, end - begin);
    const double size = static_cast<double>(one.size());
    const Wide m = wide_mean(one);
    ss_within += sum_of_squares_about(one, m);
    const double d = (m.hi - grand.hi) + (m.lo - grand.lo);
    between.push_back(size * d * d);
    groups += 1.0;
    squared_sizes += size * size;
    begin = end;
  }
  const double n = static_cast<double>(values.size());
  if (groups < 2.0 || n <= groups) {
    return std::nullopt;
  }
  OneWayAnova out{};
  out.df_between = groups - 1.0;
  out.df_within = n - groups;
  out.ss_between = sum(between);
  out.ss_within = ss_within;
  out.ms_between = out.ss_between / out.df_between;
  out.ms_within = out.ss_within / out.df_within;
  out.residual_sd = std::sqrt(out.ms_within);
  if (out.ms_within > 0.0) {
    out.f = out.ms_between / out.ms_within;
    out.p = f_upper_tail(*out.f, out.df_between, out.df_within);
  }
  if (out.ss_between + out.ss_within > 0.0) {
    out.r_squared = out.ss_between / (out.ss_between + out.ss_within);
  }
  out.mean_group_size = (n - squared_sizes / n) / out.df_between;
  out.variance_between = (out.ms_between - out.ms_within) / out.mean_group_size;
  return out;
}

}  // namespace bagsplit::stats
