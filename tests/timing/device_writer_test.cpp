#include "bagsplit/timing/device_writer.hpp"

#include <gtest/gtest.h>

#include <string>

#include "bagsplit/timing/device.hpp"

namespace {

using namespace bagsplit::timing;

// Identity: every built-in profile, written and read, is written the same again.
TEST(DeviceWriter, RoundTrip) {
  const DeviceBook book;
  ASSERT_FALSE(book.profiles().empty());
  for (const DeviceProfile& profile : book.profiles()) {
    const std::string text = write_device(profile);
    bagsplit::text::Problems problems;
    const DeviceProfile again = read_device(text, profile.name, problems, Completeness::whole);
    EXPECT_TRUE(problems.empty()) << profile.name << ": " << problems.front().message;
    EXPECT_EQ(write_device(again), text) << profile.name;
    EXPECT_EQ(again.resolution_s, profile.resolution_s);
    EXPECT_EQ(again.numbers.bias[0].has_value(), profile.numbers.bias[0].has_value());
  }
}

// Identity: a timer's own numbers, and only these, come back.
TEST(DeviceWriter, TimersOfTheirOwn) {
  DeviceProfile profile = *DeviceBook().find("stopwatch");
  TimerNumbers timer{"Zo\xC3\xAB \"Z\"", {}};
  timer.numbers.signal = SignalRole::gives;
  timer.numbers.bias[1] = BiasPrior{-0.05, 0.03, 0.01, {}};
  profile.timers = {timer};
  bagsplit::text::Problems problems;
  const DeviceProfile again = read_device(write_device(profile), "own", problems);
  EXPECT_TRUE(problems.empty());
  ASSERT_EQ(again.timers.size(), 1U);
  EXPECT_EQ(again.timers[0].timer, timer.timer);
  EXPECT_EQ(again.timers[0].numbers.signal, SignalRole::gives);
  EXPECT_EQ(again.timers[0].numbers.bias[1]->mean_s, -0.05);
  EXPECT_FALSE(again.timers[0].numbers.bias[0]);
  EXPECT_FALSE(again.timers[0].numbers.split_sd);
}

}  // namespace
