// Device profiles: the shipped numbers against their sources, and the reader.
#include "bagsplit/timing/device.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <string>
#include <vector>

#include "support/digits.hpp"

namespace {

using namespace bagsplit::timing;
using bagsplit::runs::Device;
using bagsplit::text::Problems;

std::size_t at(StartTiming timing) {
  return static_cast<std::size_t>(timing);
}

const BiasPrior& bias(const DeviceProfile& profile, StartTiming timing) {
  return profile.numbers.bias.at(at(timing)).value();
}
const ErrorSd& start_sd(const DeviceProfile& profile, StartTiming timing) {
  return profile.numbers.start_sd.at(at(timing)).value();
}

TEST(DeviceBook, KnowsEachShippedProfileAndACautiousDefault) {
  const DeviceBook book;
  for (const char* name : {"stopwatch", "gate-single-beam", "gate-dual-beam", "gate-hand-start", "video-30", "video-60",
                           "video-120", "video-240"}) {
    ASSERT_NE(book.find(name), nullptr) << name;
    EXPECT_FALSE(book.find(name)->title.empty());
  }
  EXPECT_EQ(book.find("sundial"), nullptr);
  EXPECT_EQ(book.default_for(Device::stopwatch).name, "stopwatch");
  EXPECT_EQ(book.default_for(Device::gate).name, "gate-single-beam");
  EXPECT_EQ(book.default_for(Device::video).name, "video-30");
}

TEST(DeviceBook, AnAddedProfileBecomesTheDefaultAndReplacesItsNamesake) {
  DeviceBook book;
  Problems problems;
  const std::size_t before = book.profiles().size();
  book.add(read_device(R"({"schema":"bagsplit.device/1","name":"ours","device":"gate"})", "a.json", problems));
  ASSERT_TRUE(problems.empty());
  EXPECT_EQ(book.default_for(Device::gate).name, "ours");
  EXPECT_EQ(book.profiles().size(), before + 1);
  book.add(read_device(R"({"schema":"bagsplit.device/1","name":"ours","device":"gate","rounding":"up"})", "a.json",
                       problems));
  EXPECT_EQ(book.profiles().size(), before + 1);
  EXPECT_EQ(book.find("ours")->rounding, Rounding::up);
  EXPECT_EQ(book.default_for(Device::stopwatch).name, "stopwatch");
}

TEST(Devices, StopwatchFirstMoveBiasIsThatOfThePublishedComparisons) {
  const DeviceBook book;
  const DeviceProfile& watch = *book.find("stopwatch");
  // Source: hand minus electronic over 40 yd, first-movement starts. Mayhew et al. (2010), abstract: -0.31 s; Mann et
  // al. (2015), abstract: -0.22 experienced, -0.26 novice; Meinke et al. (2009), abstract: -0.225; turf study,
  // abstract: -0.22 grass, -0.28 turf.
  const std::vector<double> published_s = {-0.31, -0.22, -0.26, -0.225, -0.22, -0.28};
  double mean = 0.0;
  for (const double each : published_s) {
    mean += each / static_cast<double>(published_s.size());
  }
  double square = 0.0;
  for (const double each : published_s) {
    square += (each - mean) * (each - mean);
  }
  const BiasPrior& prior = bias(watch, StartTiming::first_move);
  EXPECT_NEAR(prior.mean_s, mean, 0.005);
  EXPECT_GE(prior.sd_s, std::sqrt(square / static_cast<double>(published_s.size() - 1)));
  for (const double each : published_s) {
    EXPECT_LT(std::fabs(each - prior.mean_s), 1.645 * prior.sd_s);
  }
}

TEST(Devices, StopwatchPressErrorLiesInThePublishedSpan) {
  const DeviceBook book;
  const DeviceProfile& watch = *book.find("stopwatch");
  const ErrorSd& split = watch.numbers.split_sd.value();
  // Source: Mann et al. (2015), abstract: SD of hand minus electronic 0.08 s for novice timers; two presses are in it.
  EXPECT_NEAR(split.value_s, 0.08 / std::sqrt(2.0), 0.0005);
  // Source: turf study, abstract: SD 0.05 s on grass; two presses.
  EXPECT_NEAR(split.low_s, 0.05 / std::sqrt(2.0), 0.0005);
  // Source: Am J Phys 87(2):110 (2019), abstract: 0.07 s a press, from 4304 presses.
  EXPECT_GE(split.high_s, 0.07);
  EXPECT_EQ(start_sd(watch, StartTiming::beam).value_s, 0.07);
}

// The gun-start convention and the first-movement bias have different causes and like sizes: adding both would double
// it.
TEST(Devices, NoBiasAddsTheGunConventionToAFirstMovementBias) {
  const DeviceBook book;
  for (const DeviceProfile& profile : book.profiles()) {
    for (std::size_t i = 0; i < start_timing_count; ++i) {
      if (const auto& prior = profile.numbers.bias.at(i)) {
        // Source: introduction of Mayhew et al. (2010): conventions of 0.20 and 0.24 s; abstract: -0.31 s, the largest
        // published first-movement bias.
        EXPECT_LT(std::fabs(prior->mean_s), 0.31)
            << profile.name << " " << start_timing_name(static_cast<StartTiming>(i));
        EXPECT_LE(prior->timer_sd_s, prior->sd_s);
        EXPECT_GT(prior->sd_s, 0.0);
      }
    }
  }
  const BiasPrior& heard = bias(*book.find("stopwatch"), StartTiming::hears_signal);
  // Source: the same conventions, 0.20 and 0.24 s, within one SD of the derived value.
  EXPECT_LT(std::fabs(heard.mean_s + 0.20), heard.sd_s);
  EXPECT_LT(std::fabs(heard.mean_s + 0.24), heard.sd_s);
}

// Identity: where the bias of a start is derived from lags, it is the lag at a mark minus the lag at the start.
TEST(Devices, DerivedBiasesAreDifferencesOfTheirLags) {
  const DeviceBook book;
  const DeviceProfile& watch = *book.find("stopwatch");
  const double mark_s = watch.numbers.mark_lag.value().mean_s;
  // Source: J Otolaryngol Japan 93(5):746-755 (1990): simple reaction to sound of adults 186 ms.
  EXPECT_DIGITS(bias(watch, StartTiming::hears_signal).mean_s, mark_s - 0.186, 10);
  EXPECT_DIGITS(bias(watch, StartTiming::gives_signal).mean_s, mark_s, 10);
  // Source: Am J Phys 87(2):110 (2019), abstract: one anticipated visible event is pressed 0.11 s late.
  EXPECT_DIGITS(bias(watch, StartTiming::contact).mean_s, mark_s - 0.11, 10);
  EXPECT_EQ(bias(watch, StartTiming::beam).mean_s, 0.0);  // and start and stop by the same hand: 0.00
  for (const char* name : {"gate-single-beam", "gate-dual-beam", "gate-hand-start"}) {
    const DeviceProfile& gate = *book.find(name);
    EXPECT_DIGITS(bias(gate, StartTiming::first_move).mean_s,
                  gate.numbers.mark_lag.value().mean_s - gate.numbers.move_lag.value().mean_s, 10)
        << name;
  }
}

TEST(Devices, GateScatterFollowsTheDifferenceBetweenSystems) {
  const DeviceBook book;
  // Source: Earp & Newton (2012), abstract: SD of the difference between systems over 10 m 0.012 to 0.042 s.
  EXPECT_NEAR(book.find("gate-dual-beam")->numbers.split_sd.value().value_s, 0.012 / std::sqrt(2.0), 0.0005);
  EXPECT_NEAR(book.find("gate-single-beam")->numbers.split_sd.value().value_s, 0.042 / std::sqrt(2.0), 0.0005);
  // Source: Cronin & Templeton (2008), abstract: shoulder minus hip 0.07 s; even between them: mean half, SD
  // 0.07/sqrt(12).
  EXPECT_NEAR(book.find("gate-single-beam")->numbers.mark_lag.value().mean_s, -0.07 / 2.0, 1e-12);
  EXPECT_NEAR(book.find("gate-single-beam")->numbers.mark_lag.value().sd_s, 0.07 / std::sqrt(12.0), 0.0005);
}

TEST(Devices, AFrameIsTheResolutionOfAVideo) {
  const DeviceBook book;
  for (const int frames : {30, 60, 120, 240}) {
    const DeviceProfile& video = *book.find("video-" + std::to_string(frames));
    EXPECT_EQ(video.frames_per_s.value(), frames);
    EXPECT_DIGITS(video.resolution_s, 1.0 / frames, 15);
  }
  // Source: Johansen & van den Tillaar (2022), section 1: at 240 frames/s an event is known to 0.004 s.
  EXPECT_NEAR(book.find("video-240")->resolution_s, 0.004, 0.0005);
}

TEST(DeviceReader, WhatAUserLeavesOutComesFromTheBuiltInProfile) {
  Problems problems;
  const DeviceProfile ours = read_device(R"({
    "schema": "bagsplit.device/1", "name": "our-watches", "device": "stopwatch",
    "resolution_s": {"value": 0.1}, "rounding": "up",
    "timers": {
      "RB": {"signal": "hears", "bias_s": {"hears-signal": {"mean": -0.15, "sd": 0.03, "timer_sd": 0.03, "sources": ["july"]}}},
      "AK": {"signal": "gives"}
    },
    "sources": {"july": "gate evening, 40 runs"}
  })",
                                         "ours.json", problems);
  ASSERT_TRUE(problems.empty()) << problems.front().message;
  const DeviceBook book;
  const DeviceProfile& watch = *book.find("stopwatch");
  EXPECT_EQ(ours.name, "our-watches");
  EXPECT_EQ(ours.resolution_s, 0.1);
  EXPECT_EQ(ours.rounding, Rounding::up);
  EXPECT_EQ(bias(ours, StartTiming::first_move).mean_s, bias(watch, StartTiming::first_move).mean_s);
  EXPECT_EQ(ours.timer("AK")->signal.value(), SignalRole::gives);
  EXPECT_EQ(ours.timer("RB")->bias.at(at(StartTiming::hears_signal)).value().why.evidence, Evidence::own);
  EXPECT_EQ(ours.timer("ZZ"), nullptr);
  EXPECT_EQ(ours.sources.at("july"), "gate evening, 40 runs");
  EXPECT_EQ(ours.sources.count("mayhew2010"), 1U);
}

TEST(DeviceReader, AWholeProfileMayLeaveNothingOut) {
  Problems problems;
  read_device(
      R"({"schema":"bagsplit.device/1","name":"x","device":"gate","resolution_s":{"value":0.01,"evidence":"own"},"rounding":"up"})",
      "x.json", problems, Completeness::whole);
  std::vector<std::string> missing;
  for (const auto& problem : problems) {
    EXPECT_EQ(problem.code, "missing-key");
    missing.push_back(problem.message);
  }
  // signal; bias and start SD of first-move, beam and contact; split SD; both lags.
  EXPECT_EQ(missing.size(), 10U);
}

TEST(DeviceReader, ARoleMustHaveItsNumbers) {
  Problems problems;
  read_device(R"({"schema":"bagsplit.device/1","name":"x","device":"gate","timers":{"AK":{"signal":"gives"}}})",
              "x.json", problems);
  ASSERT_EQ(problems.size(), 2U);
  EXPECT_EQ(problems[0].message, "'/timers/AK/bias_s/gives-signal' is missing");
  EXPECT_EQ(problems[1].message, "'/timers/AK/sd_s/start/gives-signal' is missing");
}

TEST(DeviceReader, EveryProblemIsReportedInOnePassWithItsPlace) {
  Problems problems;
  read_device(R"({
  "schema": "bagsplit.device/1", "name": "x", "device": "stopwatch", "rounding": "nearst",
  "bias_s": {"first-mov": {"mean": -0.2, "sd": 0.1},
             "beam": {"mean": -31, "sd": 0.05, "timer_sd": 0.06},
             "contact": {"mean": 0.1, "sd": 0.1, "sources": ["smith"]}},
  "sd_s": {"split": {"value": 0.05, "low": 0.06, "high": 0.04}},
  "frames_per_s": {"value": 30},
  "sd_s": {}
})",
              "x.json", problems);
  std::string codes;
  for (const auto& problem : problems) {
    codes += problem.code + "@" + std::to_string(problem.line) + ":" + std::to_string(problem.column) + " ";
  }
  EXPECT_EQ(codes,
            "unknown-word@2:82 unknown-key@3:14 out-of-range@4:31 out-of-range@4:60 unknown-source@5:62 "
            "out-of-range@6:44 out-of-range@6:58 unknown-key@7:3 duplicate-key@8:3 ");
  ASSERT_EQ(problems.size(), 9U);
  EXPECT_EQ(problems[0].hint, "did you mean 'nearest'?");
  EXPECT_EQ(problems[1].hint, "did you mean 'first-move'?");
}

TEST(DeviceReader, AVideoHasFramesOrAResolutionButNotBoth) {
  Problems problems;
  const DeviceProfile fifty = read_device(
      R"({"schema":"bagsplit.device/1","name":"v","device":"video","frames_per_s":{"value":50}})", "v.json", problems);
  ASSERT_TRUE(problems.empty());
  EXPECT_EQ(fifty.resolution_s, 0.02);
  read_device(
      R"({"schema":"bagsplit.device/1","name":"v","device":"video","frames_per_s":{"value":50},"resolution_s":{"value":0.02}})",
      "v.json", problems);
  ASSERT_EQ(problems.size(), 1U);
  EXPECT_EQ(problems[0].code, "two-resolutions");
}

}  // namespace
