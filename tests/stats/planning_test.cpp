#include "bagsplit/stats/planning.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <sstream>
#include <stdexcept>
#include <string>
#include <vector>

#include "reference.hpp"
#include "support/digits.hpp"

namespace {

using bagsplit::test::Reference;
namespace stats = bagsplit::stats;

std::string text(double v) {
  std::ostringstream out;
  out << v;
  return out.str();
}

// Computed: R 4.2.2, qt, reference/planning/compute.R.
TEST(Planning, RunsForAPrecision) {
  const Reference r("planning");
  for (const double h : {0.1, 0.05, 0.03}) {
    const std::string name = "prec_s_sd0.12_halfwidth" + text(h);
    const auto n = *stats::size_for_half_width(h, 0.12);
    EXPECT_REFERENCE(r, name + "_n", static_cast<double>(n));
    EXPECT_REFERENCE(r, name + "_achieved", stats::t_half_width(n, 0.12));
    EXPECT_GT(stats::t_half_width(n - 1, 0.12), h);
  }
}

// Identity: sizes up to a million are found, and none beyond.
TEST(Planning, SizesUpToAMillion) {
  EXPECT_FALSE(stats::size_for_half_width(1e-9, 1.0));
  const double of_many = stats::t_half_width(700'000, 1.0);
  EXPECT_EQ(stats::size_for_half_width(of_many * (1.0 + 1e-9), 1.0), 700'000u);
}

// Common practice, no source: programmer's errors throw.
TEST(Planning, RefusesBadCalls) {
  EXPECT_THROW(stats::t_half_width(1, 1.0), std::domain_error);
}

}  // namespace
