#include "bagsplit/inference/season/growth.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>

namespace bagsplit::season {

namespace {

constexpr std::size_t knots = 12;
constexpr double first_knot_yr = 6.5;
constexpr double grown_yr = 18.0;

// Per cent of moving time a year at 6.5, 7.5, ... 17.5 years, one rate for all distances. Smoothed by us over sex and
// age from data/norms/sprint-development-rates.csv; no one source gives it:
//   6-11 years: 50 m of Japanese pupils, Japan Sports Agency, fiscal 2015 and 2017 (means of neighbouring years, cross-
//   sectional); 20 m at 8 years: Fuehner et al. (2021), Sci Rep 11:17566 (regression on the open data);
//   11-18 years: 60 m, Toennessen et al. (2015), PLoS ONE 10(6):e0129014, doi:10.1371/journal.pone.0129014 (CC BY);
//   12-16 years: 30 m, review of 176 articles, PLoS ONE 19(1):e0296181 (2024), doi:10.1371/journal.pone.0296181 (CC
//   BY).
// Doubt: Options::growth_sd_per_yr (a child's own) and squad_growth_sd_per_yr.
using Rates = std::array<double, knots>;
constexpr Rates male{-7.2, -5.5, -4.2, -3.7, -3.9, -3.6, -5.0, -4.0, -1.8, -2.2, -1.5, -0.7};
constexpr Rates female{-7.0, -5.4, -4.0, -4.0, -3.5, -2.7, -2.8, -1.7, -0.4, -0.7, -0.3, -0.2};

double knot_rate(Sex sex, std::size_t i) {
  const double percent = sex == Sex::male ? male[i] : sex == Sex::female ? female[i] : 0.5 * (male[i] + female[i]);
  return percent / 100.0;
}

/// Integral of the rate from the first knot to an age.
double summed(Sex sex, double age_yr) {
  const double x = std::min(age_yr, grown_yr) - first_knot_yr;
  if (x <= 0.0) {
    return x * knot_rate(sex, 0);
  }
  double sum = 0.0;
  for (std::size_t i = 0; i + 1 < knots; ++i) {
    const double part = std::min(x - static_cast<double>(i), 1.0);
    const double here = knot_rate(sex, i);
    sum += part * here + 0.5 * part * part * (knot_rate(sex, i + 1) - here);
    if (part < 1.0) {
      return sum;
    }
  }
  return sum + (x - static_cast<double>(knots - 1)) * knot_rate(sex, knots - 1);
}

}  // namespace

double growth_rate_per_yr(Sex sex, double age_yr) {
  if (age_yr >= grown_yr) {
    return 0.0;
  }
  const double x = std::clamp(age_yr - first_knot_yr, 0.0, static_cast<double>(knots - 1));
  const auto i = std::min(static_cast<std::size_t>(x), knots - 2);
  return std::lerp(knot_rate(sex, i), knot_rate(sex, i + 1), x - static_cast<double>(i));
}

double growth_between(Sex sex, double from_yr, double to_yr) {
  return summed(sex, to_yr) - summed(sex, from_yr);
}

}  // namespace bagsplit::season
