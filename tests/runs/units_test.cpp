#include "bagsplit/runs/units.hpp"

#include <gtest/gtest.h>

namespace bagsplit::runs {
namespace {

TEST(Units, LengthsSpeedsAndAccelerationsBecomeMetric) {
  // Source: NIST Handbook 44, appendix C: 1 ft = 0.3048 m, 1 yd = 0.9144 m, 1 mi = 1609.344 m, all exact.
  EXPECT_DOUBLE_EQ(*parse_length_m("60ft"), 18.288);
  EXPECT_DOUBLE_EQ(*parse_length_m("10 yd"), 9.144);
  EXPECT_DOUBLE_EQ(*parse_length_m("60 feet"), 18.288);
  EXPECT_DOUBLE_EQ(*parse_length_m("60 Foot"), 18.288);
  EXPECT_DOUBLE_EQ(*parse_length_m("20 yards"), 18.288);
  EXPECT_DOUBLE_EQ(*parse_length_m("18,288 m"), 18.288);
  EXPECT_DOUBLE_EQ(*parse_length_m("0,125 metres"), 0.125);
  EXPECT_DOUBLE_EQ(*parse_speed_mps("6.2"), 6.2);
  EXPECT_DOUBLE_EQ(*parse_speed_mps("6.2 m/s"), 6.2);
  EXPECT_DOUBLE_EQ(*parse_speed_mps("20ft/s"), 6.096);
  EXPECT_DOUBLE_EQ(*parse_speed_mps("18 km/h"), 5.0);
  EXPECT_DOUBLE_EQ(*parse_speed_mps("10mph"), 4.4704);
  EXPECT_DOUBLE_EQ(*parse_acceleration_mps2("3.048"), 3.048);
  EXPECT_DOUBLE_EQ(*parse_acceleration_mps2("10ft/s2"), 3.048);
  EXPECT_DOUBLE_EQ(*parse_acceleration_mps2("4 m/s2"), 4.0);
}

TEST(Units, OtherTextsAreRefused) {
  // Identity: forms stated in the header.
  for (const char* text :
       {"", "ft", "60", "-60ft", "nan m", "inf m", "60 feets", "60ft x", "1,2,3 m", "1,2.3 m", ",5 m", "5, m"}) {
    EXPECT_FALSE(parse_length_m(text)) << text;
  }
  for (const char* text : {"", "m/s", "nan", "inf", "6,2", "6.2 m/s2", "6.2mps"}) {
    EXPECT_FALSE(parse_speed_mps(text)) << text;
  }
  for (const char* text : {"", "nan", "4 m/s", "4 m/s^2", "10ft", "10ft/s"}) {
    EXPECT_FALSE(parse_acceleration_mps2(text)) << text;
  }
}

}  // namespace
}  // namespace bagsplit::runs
