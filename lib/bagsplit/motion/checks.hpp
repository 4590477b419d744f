#pragma once

#include "bagsplit/motion/curve.hpp"

/// What cannot be run is refused in one way. Internal to motion.
namespace bagsplit::motion::detail {

/// @throws std::domain_error "<function>: <argument> is <value>, but must be <bound>".
[[noreturn]] void refuse(const char* function, const char* argument, double value, const char* bound);

/// V and tau above 0, k at least 0, 4 k tau at most 0.9.
void check(const char* function, const Sprint& sprint);
void check_not_negative(const char* function, const char* argument, double value);

/// Late slowing must have taken less than half of the speed one can hold.  @param late_m  beyond where it begins.
void check_late(const char* function, const Sprint& sprint, const char* argument, double value, double late_m);

}  // namespace bagsplit::motion::detail
