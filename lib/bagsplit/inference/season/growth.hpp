#pragma once

#include "bagsplit/inference/season/season.hpp"

namespace bagsplit::season {

/// Change of moving time that growth brings, share a year (negative: faster), at an age; constant below 6.5 and from
/// 17.5 on, none from 18. Sex unknown: the mean of both. One rate for all distances.
/// Source: computed from published mean times by age and sex, smoothed; README.md.
double growth_rate_per_yr(Sex sex, double age_yr);

/// The same summed up from one age to another: the integral of the rate.
double growth_between(Sex sex, double from_yr, double to_yr);

}  // namespace bagsplit::season
