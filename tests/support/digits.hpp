// Comparing as NIST advises: by digits in agreement, -log10 of the relative error (of the absolute error where the
// certified value is 0). https://www.itl.nist.gov/div898/strd/
#pragma once

#include <gtest/gtest.h>

#include <cmath>

namespace bagsplit::test {

/// Digits in which `got` agrees with `certified`; 17 when they are equal, 0 when they share nothing or either is not
/// finite.
inline double digits_in_agreement(double got, double certified) {
  if (!std::isfinite(got) || !std::isfinite(certified)) {
    return 0.0;
  }
  if (got == certified) {
    return 17.0;
  }
  const double error = certified == 0.0 ? std::fabs(got) : std::fabs(got - certified) / std::fabs(certified);
  return std::fmax(0.0, -std::log10(error));
}

}  // namespace bagsplit::test

#define EXPECT_DIGITS(got, certified, digits)                                    \
  EXPECT_GE(::bagsplit::test::digits_in_agreement((got), (certified)), (digits)) \
      << "got " << ::testing::PrintToString(got) << ", certified " << ::testing::PrintToString(certified)
