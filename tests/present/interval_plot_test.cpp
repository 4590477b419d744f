#include "bagsplit/present/text/interval_plot.hpp"

#include <gtest/gtest.h>

#include <sstream>

#include "bagsplit/text/text_width.hpp"

namespace bagsplit::present {
namespace {

// Identity: 51 cells for 4.0 to 5.0 s, so one cell is 0.02 s.
TEST(IntervalPlot, BarsStandOnOneAxis) {
  const std::string text = interval_plot({{"12", 4.0, 4.2, 4.5}, {"7", 4.5, 4.8, 5.0}}, "s", {.width = 58});
  EXPECT_EQ(text,
            "12  |---------o--------------|\n"
            " 7                           |--------------o---------|\n"
            "    +---------+---------+---------+---------+---------+\n"
            "    4.0      4.2       4.4       4.6       4.8      5.0  s\n");
}

TEST(IntervalPlot, FitsThePageWithTheNumbersBeside) {
  for (const bool unicode : {false, true}) {
    const std::string text =
        interval_plot({{"Zo\xC3\xAB", 1.0, 1.0, 1.0, "1.00"}, {"B", 1.5, 2.0, 7.25, "2.00 +-2.88"}}, "m/s",
                      {.width = 60, .unicode = unicode}, 6.0);
    std::istringstream stream(text);
    std::size_t lines = 0;
    for (std::string line; std::getline(stream, line); ++lines) {
      EXPECT_LE(text::display_width(line), 60U);
    }
    EXPECT_EQ(lines, 4U);
  }
}

TEST(IntervalPlot, OnePointAloneStillHasAnAxis) {
  EXPECT_NE(interval_plot({{"a", 2.0, 2.0, 2.0}}, "s", {}).find('o'), std::string::npos);
  EXPECT_EQ(interval_plot({}, "s", {}), "");
}

TEST(IntervalPlot, RefusesWhatIsNoInterval) {
  EXPECT_THROW(interval_plot({{"a", 2.0, 1.0, 3.0}}, "s", {}), std::domain_error);
}

// Identity: multiples of 1, 2 or 5 times a power of ten.
TEST(AxisMarks, AreRoundNumbersWithinTheBounds) {
  EXPECT_EQ(axis_marks(0.0, 1.0, 6), (std::vector<double>{0.0, 0.2, 0.4, 0.6, 0.8, 1.0}));
  EXPECT_EQ(axis_marks(3.9, 5.2, 4), (std::vector<double>{4.0, 4.5, 5.0}));
  EXPECT_EQ(axis_marks(-120.0, 130.0, 6), (std::vector<double>{-100.0, -50.0, 0.0, 50.0, 100.0}));
  EXPECT_THROW(axis_marks(1.0, 1.0, 5), std::domain_error);
}

}  // namespace
}  // namespace bagsplit::present
