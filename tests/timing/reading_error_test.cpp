// The error of one reading, by device, start and timer.
#include "bagsplit/timing/reading_error.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <limits>
#include <stdexcept>
#include <string>

#include "support/digits.hpp"

namespace {

using namespace bagsplit::timing;
using bagsplit::runs::StartKind;
using bagsplit::text::Problems;

DeviceProfile read(const std::string& text) {
  Problems problems;
  DeviceProfile profile = read_device(text, "test.json", problems);
  EXPECT_TRUE(problems.empty()) << problems.front().message;
  return profile;
}

// Source: variance of the uniform distribution; facts as printed: hundredths 0.0029 s, tenths 0.029 s; one frame of
// 30, 60, 120, 240 a second 0.0096, 0.0048, 0.0024, 0.0012 s.
TEST(RoundingSd, IsTheStepOverTheRootOfTwelve) {
  EXPECT_NEAR(rounding_sd_s(0.01), 0.0029, 0.00005);
  EXPECT_NEAR(rounding_sd_s(0.1), 0.029, 0.0005);
  EXPECT_NEAR(rounding_sd_s(1.0 / 30.0), 0.0096, 0.00005);
  EXPECT_NEAR(rounding_sd_s(1.0 / 60.0), 0.0048, 0.00005);
  EXPECT_NEAR(rounding_sd_s(1.0 / 120.0), 0.0024, 0.00005);
  EXPECT_NEAR(rounding_sd_s(1.0 / 240.0), 0.0012, 0.00005);
  EXPECT_EQ(rounding_sd_s(0.0), 0.0);
  EXPECT_THROW(rounding_sd_s(-0.01), std::domain_error);
  EXPECT_THROW(rounding_sd_s(std::numeric_limits<double>::quiet_NaN()), std::domain_error);
}

TEST(ReadingError, TakesTheNumbersOfTheStart) {
  const DeviceBook book;
  const DeviceProfile& watch = *book.find("stopwatch");
  const ReadingError self = reading_error(watch, StartKind::self);
  const BiasPrior& prior = watch.numbers.bias.at(static_cast<std::size_t>(StartTiming::first_move)).value();
  EXPECT_EQ(self.timing, StartTiming::first_move);
  EXPECT_EQ(self.bias_mean_s, prior.mean_s);
  EXPECT_DIGITS(self.bias_sd_s(), prior.sd_s, 12);
  EXPECT_EQ(self.bias_timer_sd_s, prior.timer_sd_s);
  // Identity: s_split^2 = press^2 + resolution^2/12; the start of a watch is not on a grid.
  const double press_s = watch.numbers.split_sd.value().value_s;
  EXPECT_DIGITS(self.split_sd_s, std::sqrt(press_s * press_s + 0.01 * 0.01 / 12.0), 14);
  EXPECT_EQ(self.start_sd_s,
            watch.numbers.start_sd.at(static_cast<std::size_t>(StartTiming::first_move)).value().value_s);
  EXPECT_FALSE(self.from_timer);
  EXPECT_FALSE(self.role_assumed);
  EXPECT_EQ(reading_error(watch, StartKind::beam).timing, StartTiming::beam);
  EXPECT_EQ(reading_error(watch, StartKind::contact).timing, StartTiming::contact);
  EXPECT_EQ(reading_error(*book.find("gate-dual-beam"), StartKind::signal).timing, StartTiming::automatic_signal);
}

TEST(ReadingError, ATimersRoleDecidesWhichSignalStartItIs) {
  const DeviceProfile ours = read(R"({"schema":"bagsplit.device/1","name":"w","device":"stopwatch",
    "timers":{"AK":{"signal":"gives"},"RB":{"signal":"hears"}}})");
  const ReadingError gives = reading_error(ours, StartKind::signal, "AK");
  const ReadingError hears = reading_error(ours, StartKind::signal, "RB");
  const ReadingError nobody = reading_error(ours, StartKind::signal, "ZZ");
  EXPECT_EQ(gives.timing, StartTiming::gives_signal);
  EXPECT_EQ(hears.timing, StartTiming::hears_signal);
  EXPECT_TRUE(gives.from_timer);
  EXPECT_TRUE(nobody.role_assumed);
  EXPECT_FALSE(nobody.from_timer);
  // A timer who must hear the signal first starts late and so reads shorter than one who gives it.
  EXPECT_LT(hears.bias_mean_s, gives.bias_mean_s);
  // Identity: mean and variance of an even mixture of the two.
  EXPECT_DIGITS(nobody.bias_mean_s, 0.5 * (hears.bias_mean_s + gives.bias_mean_s), 14);
  const double half = 0.5 * (hears.bias_mean_s - gives.bias_mean_s);
  EXPECT_DIGITS(nobody.bias_sd_s() * nobody.bias_sd_s(),
                0.5 * (hears.bias_sd_s() * hears.bias_sd_s() + gives.bias_sd_s() * gives.bias_sd_s()) + half * half,
                12);
  EXPECT_DIGITS(nobody.bias_timer_sd_s * nobody.bias_timer_sd_s,
                0.5 * (hears.bias_timer_sd_s * hears.bias_timer_sd_s + gives.bias_timer_sd_s * gives.bias_timer_sd_s) +
                    half * half,
                12);
}

// Identity: times rounded up to a step are half a step long on average, and their error is that of the step.
TEST(ReadingError, RoundingUpAddsHalfAStepToTheBias) {
  const std::string tenths =
      R"({"schema":"bagsplit.device/1","name":"w","device":"stopwatch","resolution_s":{"value":0.1},)";
  const ReadingError up = reading_error(read(tenths + R"("rounding":"up"})"), StartKind::self);
  const ReadingError nearest = reading_error(read(tenths + R"("rounding":"nearest"})"), StartKind::self);
  EXPECT_DIGITS(up.bias_mean_s - nearest.bias_mean_s, 0.05, 12);
  EXPECT_EQ(up.split_sd_s, nearest.split_sd_s);
  const DeviceBook book;
  const ReadingError fine = reading_error(*book.find("stopwatch"), StartKind::self);
  EXPECT_DIGITS(up.split_sd_s * up.split_sd_s - fine.split_sd_s * fine.split_sd_s, (0.01 - 0.0001) / 12.0, 10);
}

// Identity: on video both ends are on the grid of frames: half a frame late each, so the bias cancels and both scatter.
TEST(ReadingError, FramesTouchTheStartAsTheyTouchTheMarks) {
  const DeviceBook book;
  for (const int frames : {30, 60, 120, 240}) {
    const DeviceProfile& video = *book.find("video-" + std::to_string(frames));
    const ReadingError error = reading_error(video, StartKind::signal);
    const double frame = rounding_sd_s(1.0 / frames);
    EXPECT_EQ(error.bias_mean_s, 0.0);
    EXPECT_DIGITS(error.split_sd_s, std::hypot(frame, 0.004), 12);
    EXPECT_DIGITS(error.start_sd_s, std::hypot(frame, 0.004), 12);
  }
}

// Identity: a `move` mark is m - s beyond RT, where b = e - s: what is not known of e must cancel in b + lag.
TEST(ReadingError, AMoveMarkDoesNotInheritTheLagAtTheMarks) {
  const DeviceBook book;
  const DeviceProfile& watch = *book.find("stopwatch");
  for (const DeviceProfile& profile : book.profiles()) {
    const ReadingError error = reading_error(profile, StartKind::signal);
    const LagPrior& mark = profile.numbers.mark_lag.value();
    const LagPrior& move = profile.numbers.move_lag.value();
    EXPECT_NEAR(error.move_lag_mean_s, move.mean_s - mark.mean_s, 1e-12) << profile.name;
    EXPECT_NEAR(error.move_lag_sd_s, std::hypot(move.sd_s, mark.sd_s), 1e-12) << profile.name;
    EXPECT_NEAR(error.bias_move_covariance_s2, -mark.sd_s * mark.sd_s, 1e-12) << profile.name;
    // b + lag = m - s: variance Var(m) + Var(s), with Var(s) = Var(b) - Var(e).
    const double sum = error.bias_sd_s() * error.bias_sd_s() + error.move_lag_sd_s * error.move_lag_sd_s +
                       2.0 * error.bias_move_covariance_s2;
    EXPECT_NEAR(sum, move.sd_s * move.sd_s + error.bias_sd_s() * error.bias_sd_s() - mark.sd_s * mark.sd_s, 1e-12);
    EXPECT_GT(sum, 0.0);
  }
  const ReadingError gives = reading_error(
      read(R"({"schema":"bagsplit.device/1","name":"w","device":"stopwatch","signal":"gives"})"), StartKind::signal);
  const double sum_sd_s = std::sqrt(gives.bias_sd_s() * gives.bias_sd_s() + gives.move_lag_sd_s * gives.move_lag_sd_s +
                                    2.0 * gives.bias_move_covariance_s2);
  EXPECT_LT(sum_sd_s, 0.5 * gives.bias_sd_s());
  // Source: Meinke et al. (2009), abstract: the press at a first movement comes 0.065 s after it; the call is at 0.
  EXPECT_NEAR(gives.bias_mean_s + gives.move_lag_mean_s, 0.065, 1e-12);
  EXPECT_EQ(watch.numbers.move_lag.value().mean_s, 0.065);
}

// Identity: learning a timer's own bias teaches its lag at the marks by Gaussian regression. Checked against the joint
// distribution of (e, s) conditioned on a measurement of b = e - s.
TEST(ReadingError, ATimersOwnBiasTeachesTheLagOfItsMoveMark) {
  const DeviceBook book;
  const DeviceProfile& watch = *book.find("stopwatch");
  const double e2 = std::pow(watch.numbers.mark_lag.value().sd_s, 2);
  const BiasPrior& prior = watch.numbers.bias.at(static_cast<std::size_t>(StartTiming::hears_signal)).value();
  const double b2 = prior.sd_s * prior.sd_s;
  const double measured_s = -0.10;
  const double noise2 = 0.0009;
  // Posterior of b given a measurement with variance noise2, then of e.
  const double gain_b = b2 / (b2 + noise2);
  const double b_mean = prior.mean_s + gain_b * (measured_s - prior.mean_s);
  const double b_var = b2 * (1.0 - gain_b);
  const double gain_e = e2 / (b2 + noise2);
  const double e_mean = watch.numbers.mark_lag.value().mean_s + gain_e * (measured_s - prior.mean_s);
  const double e_var = e2 * (1.0 - e2 / (b2 + noise2));
  const double cov = e2 * (1.0 - b2 / (b2 + noise2));
  const DeviceProfile ours = read(
      R"({"schema":"bagsplit.device/1","name":"w","device":"stopwatch","timers":{"RB":{"signal":"hears","bias_s":{"hears-signal":{"mean":)" +
      std::to_string(b_mean) + R"(,"sd":)" + std::to_string(std::sqrt(b_var)) + "}}}}}");
  const ReadingError error = reading_error(ours, StartKind::signal, "RB");
  const double move_sd_s = watch.numbers.move_lag.value().sd_s;
  EXPECT_NEAR(error.move_lag_mean_s, 0.065 - e_mean, 2e-6);
  EXPECT_NEAR(error.move_lag_sd_s, std::sqrt(move_sd_s * move_sd_s + e_var), 2e-6);
  EXPECT_NEAR(error.bias_move_covariance_s2, -cov, 2e-6);
  EXPECT_TRUE(error.from_timer);
}

TEST(ReadingError, AnIncompleteProfileIsAWrongCall) {
  const DeviceProfile empty;
  EXPECT_THROW(reading_error(empty, StartKind::signal), std::invalid_argument);
  EXPECT_THROW(reading_error(empty, StartKind::self), std::invalid_argument);
}

TEST(ReadingError, IsDescribedWithItsSources) {
  const DeviceBook book;
  const DeviceProfile& watch = *book.find("stopwatch");
  const ReadingError self = reading_error(watch, StartKind::self);
  EXPECT_EQ(describe(watch, self),
            "stopwatch, clock started at first move: reads 0.25 s short (SD 0.10); start SD 0.057 s, split SD 0.057 s");
  const DeviceProfile& video = *book.find("video-240");
  EXPECT_NE(describe(video, reading_error(video, StartKind::signal)).find("reads right on average"), std::string::npos);
  EXPECT_NE(describe(watch, reading_error(watch, StartKind::signal)).find("not said whether"), std::string::npos);
}

// Identity: who the log says gave the signal is the role a profile would give the timer; a gate has no such person.
TEST(ReadingError, TakesWhoGaveTheSignalFromTheLog) {
  using bagsplit::runs::Signal;
  const DeviceBook book;
  const DeviceProfile& watch = book.default_for(bagsplit::runs::Device::stopwatch);
  const ReadingError mine = reading_error(watch, StartKind::signal, "", Signal::mine);
  EXPECT_EQ(mine.timing, StartTiming::gives_signal);
  EXPECT_FALSE(mine.role_assumed);
  EXPECT_EQ(mine.bias_mean_s, watch.numbers.bias[static_cast<std::size_t>(StartTiming::gives_signal)]->mean_s);
  for (const Signal heard : {Signal::other, Signal::gun}) {
    const ReadingError error = reading_error(watch, StartKind::signal, "", heard);
    EXPECT_EQ(error.timing, StartTiming::hears_signal);
    EXPECT_EQ(error.bias_mean_s, watch.numbers.bias[static_cast<std::size_t>(StartTiming::hears_signal)]->mean_s);
  }
  EXPECT_TRUE(reading_error(watch, StartKind::signal).role_assumed);
  const DeviceProfile& gate = book.default_for(bagsplit::runs::Device::gate);
  EXPECT_EQ(reading_error(gate, StartKind::signal, "", Signal::mine).timing,
            reading_error(gate, StartKind::signal).timing);
}

}  // namespace
