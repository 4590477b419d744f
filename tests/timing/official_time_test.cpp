// Official times, classes of timing and conversion.
#include "bagsplit/timing/official_time.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <array>
#include <limits>
#include <random>
#include <stdexcept>
#include <string>
#include <vector>

namespace {

using namespace bagsplit::timing;
using bagsplit::runs::Device;

OfficialTime official(std::vector<double> times_s, Venue venue = Venue::track) {
  return official_hand_time(times_s, venue);
}

// Source: World Athletics Technical Rules, hand timing (former Rule 165), worked examples as judges' pages print them:
// 4:12.44 gives 4:12.5 on the track and 4:13 off it; watches 4:12.44, 4:12.54, 4:12.62 give 4:12.6.
TEST(OfficialTime, FollowsTheWorkedExamples) {
  EXPECT_EQ(official({252.44}).recorded_s, 252.5);
  EXPECT_EQ(official({252.44}).rule, OfficialRule::one_watch);
  EXPECT_EQ(official({252.44}, Venue::outside).recorded_s, 253.0);
  const OfficialTime three = official({252.44, 252.54, 252.62});
  EXPECT_EQ(three.time_s, 252.54);
  EXPECT_EQ(three.recorded_s, 252.6);
  EXPECT_EQ(three.rule, OfficialRule::middle);
}

// Source: the same rule: two watches that differ, the slower; three of which two agree, that time.
TEST(OfficialTime, TwoOrThreeWatches) {
  EXPECT_EQ(official({4.05, 4.11}).time_s, 4.11);
  EXPECT_EQ(official({4.11, 4.05}).rule, OfficialRule::slower_of_two);
  EXPECT_EQ(official({4.05, 4.05}).rule, OfficialRule::two_agree);
  EXPECT_EQ(official({4.05, 4.30, 4.05}).time_s, 4.05);
  EXPECT_EQ(official({4.05, 4.30, 4.05}).rule, OfficialRule::two_agree);
  EXPECT_EQ(official({4.30, 4.05, 4.30}).time_s, 4.30);
  EXPECT_EQ(official({4.30, 4.30, 4.30}).rule, OfficialRule::two_agree);
}

// Common practice, no source: more than three watches, the middle one; of two middle ones the longer.
TEST(OfficialTime, MoreThanThreeWatchesTakeTheMiddle) {
  EXPECT_EQ(official({4.4, 4.1, 4.2, 4.3}).time_s, 4.3);
  EXPECT_EQ(official({4.5, 4.4, 4.1, 4.2, 4.3}).time_s, 4.3);
  EXPECT_EQ(official({4.5, 4.4, 4.1, 4.2, 4.3}).rule, OfficialRule::middle_of_many);
}

TEST(OfficialTime, ATimeOnATenthStays) {
  for (int tenths = 1; tenths < 5000; ++tenths) {
    const double time_s = tenths / 10.0;
    EXPECT_EQ(convert_up_s(time_s, 10.0), time_s);                   // Identity: nothing to convert
    EXPECT_EQ(convert_up_s(time_s - 0.09, 10.0), time_s) << time_s;  // 0.01 above the tenth before
    EXPECT_EQ(convert_up_s((tenths * 10 + 1) / 100.0, 10.0), (tenths + 1) / 10.0);
  }
}

// Source: World Athletics Technical Rules, fully automatic timing: unless the time read is an exact 0.01 s, it is
// recorded as the next slower 0.01 s.
TEST(OfficialTime, HundredthsOfAutomaticTimes) {
  EXPECT_EQ(convert_up_s(4.30, 100.0), 4.30);
  EXPECT_EQ(convert_up_s(4.301, 100.0), 4.31);
  EXPECT_EQ(convert_up_s(4.309, 100.0), 4.31);
  for (int hundredths = 1; hundredths < 50000; ++hundredths) {
    const double time_s = hundredths / 100.0;
    EXPECT_EQ(convert_up_s(time_s, 100.0), time_s);                    // Identity: nothing to convert
    EXPECT_EQ(convert_up_s(time_s - 0.009, 100.0), time_s) << time_s;  // 0.001 above the hundredth before
  }
}

// Identity: converting each watch first and deciding then gives the same record; the order of watches does not matter.
TEST(OfficialTime, OrderAndMomentOfConversionDoNotMatter) {
  std::mt19937 engine(20260411);
  for (int round = 0; round < 2000; ++round) {
    std::vector<double> times_s(1 + engine() % 6);
    for (double& time_s : times_s) {
      time_s = static_cast<double>(400 + engine() % 40) / 100.0;
    }
    const OfficialTime before = official(times_s);
    std::vector<double> converted = times_s;
    for (double& time_s : converted) {
      time_s = convert_up_s(time_s, 10.0);
    }
    EXPECT_EQ(official(converted).recorded_s, before.recorded_s);
    std::sort(times_s.rbegin(), times_s.rend());
    EXPECT_EQ(official(times_s).time_s, before.time_s);
    EXPECT_EQ(official(times_s).rule, before.rule);
  }
}

TEST(OfficialTime, RefusesWhatIsNoTime) {
  EXPECT_THROW(official({}), std::domain_error);
  EXPECT_THROW(official({4.05, 0.0}), std::domain_error);
  EXPECT_THROW(official({std::numeric_limits<double>::quiet_NaN()}), std::domain_error);
  try {
    official({4.05, -1.0});
    FAIL();
  } catch (const std::domain_error& error) {
    EXPECT_EQ(std::string(error.what()), "official_hand_time: times_s[1] is -1, but must be finite and above 0");
  }
}

// Source: former IAAF Rule 165.13-18: a system automatic at only one end yields neither hand nor fully automatic times.
TEST(TimingClass, AHandStartedGateIsAClassOfItsOwn) {
  EXPECT_EQ(timing_class(Device::gate, StartTiming::hears_signal), TimingClass::hand_started);
  EXPECT_EQ(timing_class(Device::gate, StartTiming::gives_signal), TimingClass::hand_started);
  EXPECT_EQ(timing_class(Device::gate, StartTiming::contact), TimingClass::hand_started);
  EXPECT_EQ(timing_class(Device::gate, StartTiming::automatic_signal), TimingClass::automatic);
  EXPECT_EQ(timing_class(Device::gate, StartTiming::beam), TimingClass::own_start);
  EXPECT_EQ(timing_class(Device::gate, StartTiming::first_move), TimingClass::own_start);
  for (std::size_t i = 0; i < start_timing_count; ++i) {
    EXPECT_EQ(timing_class(Device::stopwatch, static_cast<StartTiming>(i)), TimingClass::hand);
    EXPECT_EQ(timing_class(Device::video, static_cast<StartTiming>(i)), TimingClass::video);
  }
  EXPECT_EQ(timing_class_name(TimingClass::hand_started), "hand-started");
}

}  // namespace
