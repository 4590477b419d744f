#include "bagsplit/present/chart/age_bands.hpp"

#include <algorithm>
#include <array>

namespace bagsplit::present::chart {

namespace {

constexpr std::array percentiles{95.0, 75.0, 50.0, 25.0, 5.0};
constexpr std::array<const char*, 5> words{"shortest 5%", "", "middle", "", "longest 5%"};

struct Bands {
  std::vector<double> ages;
  std::array<std::vector<double>, 5> times_s;  // by percentile, one an age
};

// Three years to each side, as far as the reference goes.
Bands bands_around(const norms::Norm& norm, runs::Sex sex, double age_years) {
  Bands bands;
  const auto ages = norm.ages(sex);
  if (!ages) {
    return bands;
  }
  constexpr double around_years = 3.0;
  constexpr int steps = 12;
  const double from = std::max(ages->first, age_years - around_years);
  const double to = std::min(ages->second - 1e-6, age_years + around_years);
  for (int k = 0; k <= steps && from < to; ++k) {
    const double age = from + (to - from) * k / steps;
    const auto reference = norm.at(age, sex, norms::AgeRule::between_bins);
    if (!reference) {
      continue;
    }
    std::array<std::optional<double>, 5> times;
    for (std::size_t i = 0; i < percentiles.size(); ++i) {
      const auto [least, most] = reference->limits();
      times[i] = reference->time_at_percentile(std::clamp(percentiles[i], least, most));
    }
    if (std::all_of(times.begin(), times.end(), [](const auto& t) { return t.has_value(); })) {
      bands.ages.push_back(age);
      for (std::size_t i = 0; i < times.size(); ++i) {
        bands.times_s[i].push_back(*times[i]);
      }
    }
  }
  return bands;
}

}  // namespace

bool has_age_bands(const norms::Norm& norm, runs::Sex sex, double age_years) {
  return bands_around(norm, sex, age_years).ages.size() >= 2;
}

text::Markup age_bands(const Caption& caption, const norms::Norm& norm, runs::Sex sex, double age_years,
                       const jobs::Estimate& time_s) {
  const Bands bands = bands_around(norm, sex, age_years);
  if (bands.ages.size() < 2) {
    return {};
  }
  constexpr double left = 34.0, right = 282.0, top = 22.0, bottom = 168.0;
  std::vector<double> values{time_s.lo, time_s.hi};
  for (const auto& times : bands.times_s) {
    values.insert(values.end(), {times.front(), times.back()});
  }
  const Scale y = scale_over(values, bottom, top);
  const Scale x{std::min(bands.ages.front(), age_years - 0.3), std::max(bands.ages.back(), age_years + 0.3), left,
                right};
  std::array<std::vector<Spot>, 5> curves;
  for (std::size_t i = 0; i < curves.size(); ++i) {
    for (std::size_t k = 0; k < bands.ages.size(); ++k) {
      curves[i].push_back({x.at(bands.ages[k]), y.at(bands.times_s[i][k])});
    }
  }
  text::Markup out = area_between(curves[0], curves[4], "band edge") + area_between(curves[1], curves[3], "band");
  out += left_axis(y, left, right, "s", 6) + bottom_axis(x, bottom, bottom, "age, years", 7);
  out += curve(curves[2], "ink");
  double least_y = 0.0;  // from the longest time at the top, none over another
  for (std::size_t i = curves.size(); i-- > 0;) {
    if (*words[i] == '\0') {
      continue;
    }
    const double at = std::max(curves[i].back().y + 4.0, least_y);
    out += label({right + 6.0, at}, words[i], Anchor::start, "small");
    least_y = at + 12.0;
  }
  const double own_x = x.at(age_years);
  out += line({own_x, y.at(time_s.lo)}, {own_x, y.at(time_s.hi)}, "bar");
  for (const double end : {time_s.lo, time_s.hi}) {
    out += line({own_x - 4.0, y.at(end)}, {own_x + 4.0, y.at(end)}, "bar");
  }
  return drawing(caption, bottom + 32.0, out + dot({own_x, y.at(std::clamp(time_s.median, time_s.lo, time_s.hi))}));
}

}  // namespace bagsplit::present::chart
