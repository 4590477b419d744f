#include "bagsplit/safety/safety.hpp"

#include <gtest/gtest.h>

#include <limits>
#include <stdexcept>

namespace {

using namespace bagsplit::safety;

// Source: slowest braking of children of 6 to 10 on a signal, 2.24 m/s2; the sheet of a 30 m test for youth asks for 40
// m of ground (scribd.com/document/103675968, read 2026). Computed: 0.3 v + v^2 / 4.48 is 9.8, 13.0, 16.7 and 20.8 m at
// 6, 7, 8 and 9 m/s.
TEST(Safety, TheRunOutGrowsWithTheSpeed) {
  EXPECT_EQ(run_out_m(0.0), 10.0);
  EXPECT_EQ(run_out_m(5.0), 10.0);
  EXPECT_EQ(run_out_m(6.0), 10.0);
  EXPECT_EQ(run_out_m(7.0), 13.0);
  EXPECT_EQ(run_out_m(8.0), 17.0);
  EXPECT_EQ(run_out_m(9.0), 21.0);
  for (double v = 0.0; v < 12.0; v += 0.01) {
    EXPECT_LE(run_out_m(v), run_out_m(v + 0.01));
    EXPECT_GE(run_out_m(v) + 0.05, 0.3 * v + v * v / 4.48);
  }
  EXPECT_THROW(run_out_m(-1.0), std::domain_error);
  EXPECT_THROW(run_out_m(std::numeric_limits<double>::quiet_NaN()), std::domain_error);
  EXPECT_THROW(run_out_m(std::numeric_limits<double>::infinity()), std::domain_error);
}

// Source: Moran et al. (2017), Int J Sports Med 38(1):1-11: 90 s or more; a test sheet for youth soccer: 2 min.
TEST(Safety, OlderPlayersRestLonger) {
  EXPECT_EQ(least_rest_s(8.0), 90.0);
  EXPECT_EQ(least_rest_s(11.99), 90.0);
  EXPECT_EQ(least_rest_s(12.0), 120.0);
  EXPECT_EQ(least_rest_s(std::nullopt), 120.0);
}

// Identity: each figure and caution has its source, or says that it has none; the enumeration is the table's order.
TEST(Safety, EachFigureAndCautionNamesItsSource) {
  for (const Figure& figure : figures()) {
    EXPECT_EQ(figure.source.empty(), figure.grade == Grade::common_practice) << figure.name;
  }
  std::size_t k = 0;
  for (const Said& said : cautions()) {
    EXPECT_EQ(static_cast<std::size_t>(said.caution), k++) << said.words;
    EXPECT_EQ(said.source.empty(), said.grade == Grade::common_practice) << said.words;
    EXPECT_EQ(words(said.caution), said.words);
  }
  EXPECT_EQ(static_cast<std::size_t>(Caution::league) + 1, k);
}

// Common practice, no source: what is said wherever sprints are asked for.
TEST(Safety, ASprintIsNeverAskedForWithoutTheWholeOfIt) {
  for (const std::string& text : {sprint_caution(8.0), path_cautions(8.0).back(), relay_cautions(true, 8.0).back()}) {
    EXPECT_TRUE(is_sprint_caution(text));
    for (const char* part : {"Warm up for 15 to 20 minutes", "at least 17 m", "Rest at least 90 s", "No more than 12",
                             "local heat table", "facing the sun", "when a child hurts", "League rules"}) {
      EXPECT_NE(text.find(part), std::string::npos) << part;
    }
  }
  EXPECT_FALSE(is_sprint_caution(words(Caution::prone)));
  std::string sheet;
  for (const std::string& line : field_cautions({.base_path = true, .relay = true, .meet_at_second = true}, 7.0)) {
    sheet += line + "\n";
  }
  for (const char* part : {"Warm up", "at least 13 m", "out of the path", "thunder", "facing the sun", "no sliding",
                           "each team", "meet on second", "League rules"}) {
    EXPECT_NE(sheet.find(part), std::string::npos) << part;
  }
  EXPECT_NE(short_caution(9.0).find("21 m"), std::string::npos);
}

}  // namespace
