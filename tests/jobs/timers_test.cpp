#include "bagsplit/jobs/timers/timers.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <filesystem>
#include <fstream>
#include <nlohmann/json.hpp>
#include <sstream>
#include <stdexcept>
#include <string>
#include <vector>

#include "bagsplit/runs/log/run_log.hpp"
#include "bagsplit/stats/random.hpp"
#include "bagsplit/timing/device_writer.hpp"
#include "bagsplit/timing/reading_error.hpp"
#include "stats/reference.hpp"
#include "support/digits.hpp"

namespace {

using namespace bagsplit;
using jobs::TimersOptions;
using jobs::TimersResult;
using test::matches;
using test::Reference;
using test::Table;

TimersResult timers_of(const std::string& text, const TimersOptions& options = {},
                       const timing::DeviceBook& devices = {}) {
  const auto log = runs::read_run_log(text, "log.csv");
  for (const auto& problem : log.problems) {
    EXPECT_NE(problem.severity, text::Severity::error) << problem.message;
  }
  return jobs::timers(log.log, devices, options);
}

std::string row(int player, const std::string& timer, double time_s) {
  char buffer[96];
  std::snprintf(buffer, sizeof buffer, "2026-05-01,%d,straight,1,%s,%.4f\n", player, timer.c_str(), time_s);
  return buffer;
}

bool says(const std::vector<std::string>& notes, const std::string& part) {
  return std::any_of(notes.begin(), notes.end(),
                     [&](const std::string& note) { return note.find(part) != std::string::npos; });
}

// Identity: the second watch was made to run 2 % fast (0.04 s over 2.1 s, 0.005 more by its scatter); a steady
// difference is no growing one.
TEST(Timers, SaysThatADifferenceGrowsWithTheTime) {
  std::string steady = "# start: signal\ndate,player,course,trial,timer,20m\n";
  std::string growing = steady;
  for (int i = 0; i < 20; ++i) {
    const double time_s = 3.5 + 0.11 * i, scatter_s = 0.01 * (i * 7 % 5 - 2);
    steady += row(i, "A", time_s) + row(i, "B", time_s + 0.1 + scatter_s);
    growing += row(i, "A", time_s) + row(i, "B", 1.02 * time_s + scatter_s);
  }
  EXPECT_FALSE(says(timers_of(steady).notes, "grows with the time"));
  EXPECT_TRUE(says(timers_of(growing).notes,
                   "A, stopwatch against B, stopwatch: the difference grows with the time, "
                   "by about -0.05 s from the shortest to the longest (3.5 to 5.7 s)"));
}

// Identity: A's last digits go round all ten, B's were made to end in 0 or 5, C wrote tenths.
TEST(Timers, SaysThatLastDigitsAreHeaped) {
  std::string log = "# start: signal\ndate,player,course,trial,timer,20m\n";
  for (int i = 0; i < 60; ++i) {
    log += row(i, "A", 3.5 + 0.01 * (i * 7 % 100)) + row(i, "B", 3.5 + 0.05 * (i * 7 % 20)) +
           row(i, "C", 3.5 + 0.1 * (i * 7 % 10));
  }
  const auto notes = timers_of(log).notes;
  EXPECT_TRUE(says(notes, "B: 60 of 60 times end in 0 or 5, where chance would give about 12"));
  EXPECT_TRUE(says(notes, "C wrote tenths only"));
  EXPECT_FALSE(says(notes, "A: "));
}

// Identity: the points are the runs; their mean difference is the bias.
TEST(Timers, HandsOnEveryRun) {
  std::string log = "# start: signal\ndate,player,course,trial,timer,20m\n";
  for (int i = 0; i < 4; ++i) {
    log += row(i, "A", 4.0 + 0.1 * i) + row(i, "B", 4.1 + 0.1 * i + 0.02 * (i % 2));
  }
  const auto result = timers_of(log);
  ASSERT_EQ(result.pairs.size(), 1U);
  ASSERT_EQ(result.pairs[0].points.size(), 4U);
  double sum = 0.0;
  for (const jobs::TimersPoint& point : result.pairs[0].points) {
    sum += point.difference_s;
  }
  EXPECT_NEAR(0.25 * sum, result.pairs[0].agreement->bias, 1e-9);
  EXPECT_NEAR(result.pairs[0].points[1].mean_s, 4.16, 1e-9);
}

// Source: Shrout & Fleiss (1979), Psychol Bull 86:420-428, Table 2 (four judges, six targets) and Table 4. Here judges
// are timers and a point is a tenth of a second: coefficients do not depend on the unit, typical errors do.
TEST(Timers, FourJudgesOfSixTargets) {
  const Reference r("icc_shrout_fleiss_1979");
  const Table data("icc_shrout_fleiss_1979/data.csv");
  std::string log = "# start: signal\ndate,player,course,trial,timer,20m\n";
  for (int judge = 1; judge <= 4; ++judge) {
    const auto points = data.numbers("judge" + std::to_string(judge));
    for (std::size_t i = 0; i < points.size(); ++i) {
      log += row(static_cast<int>(i) + 1, "J" + std::to_string(judge), 3.0 + 0.1 * points[i]);
    }
  }
  TimersOptions options;
  options.level = 0.95;
  const auto result = timers_of(log, options);
  ASSERT_EQ(result.groups.size(), 1U);
  EXPECT_EQ(result.pairs.size(), 6U);
  const stats::Reliability& got = result.groups[0].reliability;
  for (const auto& [name, icc] : {std::pair{"icc_1_1", &got.icc_1_1},
                                  {"icc_2_1", &got.icc_2_1},
                                  {"icc_3_1", &got.icc_3_1},
                                  {"icc_1_k", &got.icc_1_k},
                                  {"icc_2_k", &got.icc_2_k},
                                  {"icc_3_k", &got.icc_3_k}}) {
    EXPECT_REFERENCE(r, std::string("published_") + name, *icc->icc);
    EXPECT_NEAR(*icc->icc, r.value(name), 1e-9);
    EXPECT_NEAR(icc->interval->lo, r.values(std::string(name) + "_ci95")[0], 1e-8);
    EXPECT_NEAR(icc->interval->hi, r.values(std::string(name) + "_ci95")[1], 1e-8);
  }
  EXPECT_NEAR(got.typical_error.sd, 0.1 * r.value("sem_consistency_sqrt_EMS"), 1e-9);
}

// Source: Bland & Altman (1986), Lancet 327:307-310: two meters on 17 subjects, here 100 l/min a second.
// Computed: R 4.2.2, reference/bland_altman_1986_pefr/compute.R, for the exact intervals.
TEST(Timers, TwoMetersOfSeventeenSubjects) {
  const Reference r("bland_altman_1986_pefr");
  const Table data("bland_altman_1986_pefr/data.csv");
  std::string log = "# start: signal\ndate,player,course,trial,timer,5m\n";
  const auto large = data.numbers("wright1");
  const auto mini = data.numbers("mini1");
  for (std::size_t i = 0; i < large.size(); ++i) {
    log += row(static_cast<int>(i) + 1, "A", large[i] / 100.0) + row(static_cast<int>(i) + 1, "B", mini[i] / 100.0);
  }
  TimersOptions options;
  options.level = 0.95;
  const auto result = timers_of(log, options);
  ASSERT_EQ(result.pairs.size(), 1U);
  const auto& pair = result.pairs[0];
  EXPECT_FALSE(pair.repeated);
  EXPECT_NEAR(100.0 * pair.agreement->bias, r.value("bias"), 1e-8);
  EXPECT_NEAR(100.0 * pair.agreement->sd, r.value("sd"), 1e-8);
  EXPECT_REFERENCE(r, "published_se_bias", 100.0 * pair.agreement->se_bias);
  EXPECT_NEAR(100.0 * pair.agreement->bias_interval.lo, r.values("bias_ci95")[0], 1e-7);
  EXPECT_NEAR(100.0 * pair.agreement->limits.lo, r.values("limits_1.96sd")[0], 1e-2);
  EXPECT_NEAR(100.0 * pair.agreement->lower_limit_interval.lo, r.values("lower_limit_ci95_exact")[0], 1e-1);
  EXPECT_NEAR(pair.proportional->slope, r.value("proportional_bias_slope_of_difference_on_mean"), 1e-9);
  EXPECT_EQ(pair.bias_df, 16.0);
  EXPECT_TRUE(says(result.notes, "Watches beside each other tell only how they differ"));
}

std::string text_of(const std::string& path) {
  std::ifstream in(path, std::ios::binary);
  std::ostringstream text;
  text << in.rdbuf();
  return text.str();
}

runs::RunLog demo_log() {
  std::vector<std::string> paths, texts;
  for (const auto& entry : std::filesystem::directory_iterator(std::string(BAGSPLIT_DATA_DIR) + "/demo")) {
    if (entry.path().filename().string().starts_with("2026-")) {
      paths.push_back(entry.path().string());
    }
  }
  std::sort(paths.begin(), paths.end());
  std::vector<runs::LogText> logs;
  for (const auto& path : paths) {
    texts.push_back(text_of(path));
  }
  for (std::size_t i = 0; i < paths.size(); ++i) {
    logs.push_back({texts[i], paths[i], false});
  }
  return runs::read_run_logs(logs).log;
}

timing::DeviceBook demo_devices() {
  text::Problems problems;
  timing::DeviceBook devices;
  devices.add(timing::read_device(text_of(std::string(BAGSPLIT_DATA_DIR) + "/demo/watches.json"), "w", problems));
  // The demo's gates have no bias: said here, as the built-in gate does not know it.
  devices.add(timing::read_device(
      R"({"schema": "bagsplit.device/1", "name": "exact", "device": "gate", "signal": "automatic",
          "bias_s": {"automatic-signal": {"mean": 0, "sd": 0.003}}})",
      "g", problems));
  EXPECT_TRUE(problems.empty());
  return devices;
}

// Identity: the biases the demo season was made from, tests/demo_season/truth.json, lie where they are said to be.
// Invented data: this shows that the chain holds together.
TEST(Timers, FindsTheBiasesOfTheDemoSeason) {
  const auto truth = nlohmann::json::parse(text_of(std::string(BAGSPLIT_TEST_DATA) + "/demo_season/truth.json"));
  const auto result = jobs::timers(demo_log(), demo_devices(), {});
  int compared = 0;
  for (const auto& timer : truth.at("timers")) {
    for (const auto& bias : result.biases) {
      const char* cue = bias.start == "hears-signal"   ? "hears_call"
                        : bias.start == "gives-signal" ? "gives_call"
                        : bias.start == "first-move"   ? "sees_first_move"
                                                       : "";
      if (bias.timer == timer.at("timer") && timer.at("bias_s").contains(cue)) {
        ++compared;
        EXPECT_LT(std::fabs(bias.mean_s - timer.at("bias_s").at(cue).get<double>()), 3.5 * bias.sd_s)
            << bias.timer << " " << cue;
        EXPECT_LE(bias.sd_s, bias.sd_before_s);
        if (bias.against_reference) {
          EXPECT_LT(bias.sd_s, 0.03) << bias.timer;
        }
      }
    }
  }
  EXPECT_GE(compared, 5);
  ASSERT_TRUE(result.pairs[0].is_reference);
  EXPECT_EQ(result.pairs[0].first.timer, "any watch");
}

// Identity: what is written is read back, and other commands' errors are the numbers found.
TEST(Timers, TheProfileGoesRoundTheCorner) {
  TimersOptions options;
  options.profile_name = "ours";
  const auto result = jobs::timers(demo_log(), demo_devices(), options);
  ASSERT_TRUE(result.profile);
  text::Problems problems;
  const auto again = timing::read_device(timing::write_device(*result.profile), "ours.json", problems);
  EXPECT_TRUE(problems.empty());
  EXPECT_EQ(again.name, "ours");
  for (const auto& bias : result.biases) {
    const auto start = bias.start == "first-move" ? runs::StartKind::self : runs::StartKind::signal;
    const auto error = timing::reading_error(again, start, bias.timer);
    EXPECT_NEAR(error.bias_mean_s, bias.mean_s, 1e-9) << bias.timer;
    EXPECT_NEAR(error.bias_sd_s(), bias.sd_s, 1e-9);
    EXPECT_NEAR(error.bias_timer_sd_s, bias.timer_sd_s, 1e-9);
    EXPECT_TRUE(error.from_timer);
  }
}

// Identity: the posterior holds the truth as often as it says (z below 1.645 in 90 of 100): three thumbs whose biases
// come from the prior, some runs beside a gate. 400 nights; the bounds are 4.5 standard errors wide.
TEST(Timers, BiasesAreWhereTheyAreSaidToBe) {
  int inside = 0, all = 0;
  double before = 0.0, after = 0.0;
  text::Problems problems;
  timing::DeviceBook devices;
  devices.add(timing::read_device(
      R"({"schema": "bagsplit.device/1", "name": "watch", "device": "stopwatch", "signal": "hears",
          "bias_s": {"hears-signal": {"mean": -0.2, "sd": 0.1, "timer_sd": 0.06}}})",
      "w", problems));
  devices.add(timing::read_device(
      R"({"schema": "bagsplit.device/1", "name": "gate", "device": "gate", "signal": "automatic",
          "bias_s": {"automatic-signal": {"mean": 0.01, "sd": 0.02}}})",
      "g", problems));
  ASSERT_TRUE(problems.empty());
  const auto watch = timing::reading_error(devices.default_for(runs::Device::stopwatch), runs::StartKind::signal, "X");
  const auto gate = timing::reading_error(devices.default_for(runs::Device::gate), runs::StartKind::signal, "");
  for (int s = 0; s < 400; ++s) {
    stats::RandomStream random(5, static_cast<std::uint64_t>(s));
    const double shared = watch.bias_shared_sd_s * random.normal();
    const double gate_bias = gate.bias_mean_s + gate.bias_sd_s() * random.normal();
    double bias[3];
    for (double& b : bias) {
      b = watch.bias_mean_s + shared + watch.bias_timer_sd_s * random.normal();
    }
    std::string log = "date,player,course,trial,timer,device,start,20m\n";
    for (int run = 0; run < 24; ++run) {
      const double time = 4.0 + 0.2 * random.normal();
      const auto add = [&](const std::string& timer, const char* device, double value) {
        char buffer[96];
        std::snprintf(buffer, sizeof buffer, "2026-05-01,%d,straight,%d,%s,%s,signal,%.3f\n", 1 + run % 6, 1 + run / 6,
                      timer.c_str(), device, value);
        log += buffer;
      };
      for (const int t : {run % 3, (run + 1) % 3}) {
        add("T" + std::to_string(t), "stopwatch",
            time + bias[t] + std::hypot(watch.start_sd_s, watch.split_sd_s) * random.normal());
      }
      if (run % 4 == 0 && s % 2 == 0) {
        add("", "gate", time + gate_bias + std::hypot(gate.start_sd_s, gate.split_sd_s) * random.normal());
      }
    }
    for (const auto& found : timers_of(log, {}, devices).biases) {
      ++all;
      inside += std::fabs(found.mean_s - bias[found.timer[1] - '0']) < 1.645 * found.sd_s;
      before += found.sd_before_s;
      after += found.sd_s;
    }
  }
  EXPECT_EQ(all, 1200);
  EXPECT_NEAR(static_cast<double>(inside) / all, 0.9, 4.5 * std::sqrt(0.09 / 400.0));
  EXPECT_LT(after, 0.8 * before);
}

// Common practice, no source: a wrong row is named by file and line, and stays in the figures.
TEST(Timers, NamesWhatIsFarFromTheOthers) {
  std::string log = "# start: signal\ndate,player,course,trial,timer,20m\n";
  for (int p = 1; p <= 9; ++p) {
    const double time = 4.0 + 0.1 * p;
    log += row(p, "A", time) + row(p, "B", time + 0.10 + 0.02 * (p % 3) + (p == 5 ? 0.5 : 0.0));
  }
  const auto result = timers_of(log);
  ASSERT_EQ(result.pairs[0].outliers.size(), 1U);
  EXPECT_EQ(result.pairs[0].outliers[0].player, "5");
  EXPECT_EQ(result.pairs[0].outliers[0].first_place, "log.csv:11");
  EXPECT_EQ(result.pairs[0].outliers[0].second_place, "log.csv:12");
  EXPECT_NEAR(*result.pairs[0].bias_without_outliers_s, -0.12, 0.006);
  EXPECT_LT(result.pairs[0].agreement->bias, -0.16);
}

// Identity: what is named as far off is out of the device profile, also where the number of runs is even.
// Computed: SD of 0, 0, 0, 0.1, 0.1 = sqrt(0.003), of one press of two watches 1/sqrt(2) of it: 0.0387.
TEST(Timers, WhatIsNamedFarOffIsOutOfTheProfile) {
  const double apart[] = {0.0, 0.0, 0.0, 0.10, 0.10, 0.44};
  std::string log = "# start: signal\ndate,player,course,trial,timer,20m\n";
  for (int p = 1; p <= 6; ++p) {
    log += row(p, "A", 4.0 + 0.1 * p + apart[p - 1]) + row(p, "B", 4.0 + 0.1 * p);
  }
  const auto result = timers_of(log);
  ASSERT_EQ(result.pairs.size(), 1U);
  ASSERT_EQ(result.pairs[0].outliers.size(), 1U);
  EXPECT_EQ(result.pairs[0].outliers[0].player, "6");
  ASSERT_EQ(result.biases.size(), 2U);
  for (const jobs::TimerBias& bias : result.biases) {
    EXPECT_EQ(bias.runs, 5U);
    EXPECT_NEAR(bias.press_sd_s.value(), std::sqrt(0.003 / 2.0), 1e-6);
    EXPECT_NEAR(bias.press_sd_s.value(), result.pairs[0].sd_without_outliers_s.value() / std::sqrt(2.0), 1e-6);
  }
}

// Identity: asked for one mark, the profile is of that mark as the comparison is: A is 0.2 s above B there, and with
// equal priors the two share it; at the farthest mark they agree.
TEST(Timers, TheProfileIsOfTheMarkAskedFor) {
  std::string log = "# start: signal\ndate,player,course,trial,timer,10m,20m\n";
  for (int p = 1; p <= 8; ++p) {
    const std::string day = "2026-05-01," + std::to_string(p) + ",straight,1,";
    log += day + "A,2.60,4.20\n" + day + "B,2.40,4.20\n";
  }
  TimersOptions options;
  options.mark = "10m";
  const auto at_10 = timers_of(log, options);
  const auto at_20 = timers_of(log);
  ASSERT_EQ(at_10.biases.size(), 2U);
  ASSERT_EQ(at_20.biases.size(), 2U);
  EXPECT_GT(at_10.biases[0].mean_s - at_10.biases[1].mean_s, 0.05);
  EXPECT_NEAR(at_20.biases[0].mean_s, at_20.biases[1].mean_s, 1e-9);
}

// Common practice, no source: what cannot be compared is said.
TEST(Timers, SaysWhatCannotBeTold) {
  const std::string header = "date,player,course,trial,timer,start,20m,flag\n";
  const auto alone = timers_of(header + "2026-05-01,1,straight,1,A,signal,4.0,\n");
  EXPECT_TRUE(says(alone.notes, "No run was timed twice"));
  EXPECT_TRUE(alone.pairs.empty());
  EXPECT_FALSE(alone.profile);
  const auto starts =
      timers_of(header + "2026-05-01,1,straight,1,A,signal,4.4,\n2026-05-01,1,straight,1,B,self,4.0,\n" +
                "2026-05-01,2,straight,1,A,signal,4.4,\n2026-05-01,2,straight,1,B,signal,4.5,\n" +
                "2026-05-01,3,straight,1,A,signal,4.4,fall\n2026-05-01,3,straight,1,B,signal,4.5,fall\n");
  EXPECT_TRUE(says(starts.notes, "not held against each other"));
  EXPECT_EQ(starts.pairs.size(), 1U);
  EXPECT_EQ(starts.pairs[0].runs, 1U);
  EXPECT_FALSE(starts.pairs[0].agreement);
  EXPECT_EQ(starts.runs_left_out, 1U);
  EXPECT_TRUE(says(starts.notes, "fewer than about 10 runs"));
  TimersOptions wrong;
  wrong.level = 0.0;
  EXPECT_THROW(timers_of(header, wrong), std::domain_error);
}

}  // namespace
