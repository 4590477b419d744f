// Argument checks shared by the sources of stats; not installed. A broken check is a programmer's error and throws.
#pragma once

#include <cstddef>
#include <span>
#include <string_view>
#include <vector>

namespace bagsplit::stats::check {

/// Throws std::domain_error "who: what is value, but must be bound".
[[noreturn]] void fail(std::string_view who, std::string_view what, double value, std::string_view bound);
/// Throws std::invalid_argument "who: text".
[[noreturn]] void fail_call(std::string_view who, std::string_view text);

/// A confidence level or probability strictly between 0 and 1.
void open_unit(std::string_view who, std::string_view what, double value);
void positive(std::string_view who, std::string_view what, double value);
void not_negative(std::string_view who, std::string_view what, double value);
void finite(std::string_view who, std::string_view what, double value);
/// Every element finite; the message names the index.
void all_finite(std::string_view who, std::string_view what, std::span<const double> values);
void same_size(std::string_view who, std::string_view what_a, std::size_t a, std::string_view what_b, std::size_t b);

/// x_i - y_i, all finite. Differences that are equal but for the rounding of x and y (two watches always 0.10 apart)
/// come out equal, so that they are seen to have no scatter.
std::vector<double> differences(std::string_view who, std::span<const double> x, std::span<const double> y);

}  // namespace bagsplit::stats::check
