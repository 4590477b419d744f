#pragma once

#include <cstddef>
#include <optional>

/// How many observations a precision takes.
///
/// Assumes normal errors with the SD given. The SD is the weak point: planned from few data, take its upper limit.
namespace bagsplit::stats {

/// Half-width of the t interval of a mean of n values with standard deviation sd. @param n at least 2.
double t_half_width(std::size_t n, double sd, double level = 0.95);
/// Smallest n with t_half_width <= half_width. None beyond a million.
std::optional<std::size_t> size_for_half_width(double half_width, double sd, double level = 0.95);

}  // namespace bagsplit::stats
