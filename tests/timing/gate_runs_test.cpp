#include "bagsplit/gates/gate_runs.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <cstdio>
#include <map>
#include <string>
#include <vector>

#include "bagsplit/runs/log/run_log.hpp"
#include "bagsplit/runs/typed.hpp"

namespace {

using namespace bagsplit;
using namespace bagsplit::gates;

struct Sorted {
  gates::GateRuns runs;
  text::Problems problems;
  std::string csv;

  std::size_t count(std::string_view code) const {
    return static_cast<std::size_t>(
        std::count_if(problems.begin(), problems.end(), [&](const auto& p) { return p.code == code; }));
  }
  std::size_t line(std::string_view code) const {
    const auto at = std::find_if(problems.begin(), problems.end(), [&](const auto& p) { return p.code == code; });
    return at == problems.end() ? 0 : at->line;
  }
  double time_s(std::size_t run, std::size_t place) const {
    const auto& at = runs.runs.at(run).at_ns.at(place);
    return at ? static_cast<double>(*at) / 1e9 : -1.0;
  }
};

const std::string three_gates = "# start: self\ngate,mark\nA,start\nB,10m\nC,20m\n";

Sorted sort_log(const std::string& log, const std::string& starts, const std::string& map = three_gates) {
  Sorted out;
  const gates::GateMap places = gates::read_gate_map(map, "map.csv", runs::builtin_courses(), out.problems);
  const gates::StartList list = gates::read_start_list(starts, "starts.csv", out.problems);
  const gates::GateLog read = gates::read_gate_log("# date: 2026-04-11\n" + log, "gates.csv", out.problems);
  out.runs = gates::sort_into_runs(read, list, places, {}, out.problems);
  out.csv = gates::gate_run_log(out.runs, places, read.date.value_or(runs::Date{}), "");
  return out;
}

// Times to 10 and 20 m that a child may run.
std::string run_at(double start_s, double first_s = 2.2, double second_s = 3.7) {
  char text[100];
  std::snprintf(text, sizeof text, "A,%.2f\nB,%.2f\nC,%.2f\n", start_s, start_s + first_s, start_s + second_s);
  return text;
}

// Source: Graubner & Nixdorf (2011), New Studies in Athletics 26(1/2), 19-53: men's 100 m final, Berlin 2009, time at
// every 10 m from the gun; and the 20 m splits of the 2009 preliminary report. Beijing 2008: Mackala & Mero (2013), J
// Hum Kinet 36, 149-161.
const std::map<std::string, std::vector<double>> published{
    {"berlin", {1.88, 2.88, 3.78, 4.64, 5.47, 6.29, 7.10, 7.92, 8.74, 9.58}},
    {"berlin-preliminary", {1.89, 2.88, 3.78, 4.64, 5.47, 6.29, 7.10, 7.92, 8.75, 9.58}},
    {"beijing", {1.85, 2.87, 3.78, 4.65, 5.50, 6.32, 7.14, 7.96, 8.79, 9.69}}};

class Published : public testing::TestWithParam<double> {};

TEST_P(Published, SplitsComeBackFromAGateLogToTheLastDigit) {
  // Runners start one after another, so that with a short gap several are on the track at once.
  struct Line {
    double s;
    std::string gate;
  };
  std::vector<Line> lines;
  std::string starts = "player\n";
  double start_s = 36'000.37;
  for (const auto& [who, times] : published) {
    starts += who + "\n";
    lines.push_back({start_s, "gun"});
    for (std::size_t k = 0; k < times.size(); ++k) {
      lines.push_back({start_s + times[k], "g" + std::to_string(k)});
    }
    start_s += GetParam();
  }
  std::stable_sort(lines.begin(), lines.end(), [](const Line& a, const Line& b) { return a.s < b.s; });
  std::string log = "gate,time\n";
  std::string map = "# course: straight\n# start: signal\ngate,mark\ngun,start\n";
  for (const Line& line : lines) {
    char text[40];
    std::snprintf(text, sizeof text, "%s,%.2f\n", line.gate.c_str(), line.s);
    log += text;
  }
  for (int k = 0; k < 10; ++k) {
    map += "g" + std::to_string(k) + "," + std::to_string(10 * (k + 1)) + "m\n";
  }
  const Sorted sorted = sort_log(log, starts, map);
  EXPECT_TRUE(sorted.problems.empty());
  const auto back = runs::read_run_log(sorted.csv, "made.csv");
  EXPECT_FALSE(text::has_errors(back.problems));
  ASSERT_EQ(back.log.runs.size(), published.size());
  for (const runs::Run& run : back.log.runs) {
    const auto& times = published.at(back.log.name(run.player));
    const auto splits = back.log.splits_of(back.log.readings_of(run)[0]);
    ASSERT_EQ(splits.size(), times.size());
    for (std::size_t k = 0; k < times.size(); ++k) {
      EXPECT_EQ(splits[k].time_s, times[k]) << back.log.name(run.player) << " " << k;
      EXPECT_DOUBLE_EQ(splits[k].distance_m, 10.0 * static_cast<double>(k + 1));
    }
    EXPECT_EQ(back.log.readings_of(run)[0].device, runs::Device::gate);
  }
}

INSTANTIATE_TEST_SUITE_P(Gaps, Published, testing::Values(90.0, 12.0, 5.0, 3.0));

// Identity: the same moments written in another way give the same runs.
TEST(GateRuns, TimesOfDayAndIsoTimesGiveTheSameAsSeconds) {
  const Sorted seconds = sort_log("gate,time\nA,0.5\nB,2.625\nC,4.250\n", "player\n7\n");
  const Sorted of_day = sort_log("gate,time\nA,10:15:59.5\nB,10:16:01.625\nC,10:16:03.25\n", "player\n7\n");
  const Sorted iso =
      sort_log("gate,time\nA,2026-04-11T10:15:59.5+02:00\nB,2026-04-11T08:16:01.625Z\nC,2026-04-11 08:16:03.250\n",
               "player\n7\n");
  for (const Sorted* one : {&seconds, &of_day, &iso}) {
    ASSERT_EQ(one->runs.runs.size(), 1U);
    EXPECT_EQ(one->time_s(0, 0), 2.125);
    EXPECT_EQ(one->time_s(0, 1), 3.75);
    EXPECT_TRUE(one->problems.empty());
  }
}

TEST(GateRuns, ArmThenTorsoTakesTheTorsoAndSaysSo) {
  // Source: competition rules time the torso (World Athletics Technical Rules, 2024, rule on the finish); 12.18 - 10.
  const Sorted sorted = sort_log("gate,time\nA,10\nB,12.10\nB,12.18\nC,13.70\n", "player\n7\n");
  ASSERT_EQ(sorted.runs.runs.size(), 1U);
  EXPECT_DOUBLE_EQ(sorted.time_s(0, 0), 2.18);
  EXPECT_EQ(sorted.line("double-trigger"), 5U);
  EXPECT_EQ(sorted.runs.counts.double_triggers, 1U);
  EXPECT_NE(sorted.csv.find("0.08 s apart"), std::string::npos);
}

TEST(GateRuns, ThreeBreaksLeaveTheTimeEmpty) {
  const Sorted sorted = sort_log("gate,time\nA,10\nB,12.10\nB,12.15\nB,12.22\nC,13.70\n", "player\n7\n");
  EXPECT_EQ(sorted.time_s(0, 0), -1.0);
  EXPECT_DOUBLE_EQ(sorted.time_s(0, 1), 3.7);
  EXPECT_EQ(sorted.line("three-breaks"), 6U);
}

TEST(GateRuns, AMissedBeamLeavesTheTimeEmpty) {
  const Sorted sorted = sort_log("gate,time\nA,10\nC,13.70\nA,40\nB,42.2\n", "player\n7\n8\n");
  ASSERT_EQ(sorted.runs.runs.size(), 2U);
  EXPECT_EQ(sorted.time_s(0, 0), -1.0);
  EXPECT_DOUBLE_EQ(sorted.time_s(0, 1), 3.7);
  EXPECT_DOUBLE_EQ(sorted.time_s(1, 0), 2.2);
  EXPECT_EQ(sorted.time_s(1, 1), -1.0);
  EXPECT_EQ(sorted.runs.counts.missed_beams, 2U);
  EXPECT_EQ(sorted.runs.counts.in_doubt, 0U);
}

TEST(GateRuns, StrayPeopleAreLeftOut) {
  // One at 10 m with nobody on the course, one at 20 m half a second after the start, one at 10 m while the runner is
  // past it.
  const Sorted sorted = sort_log("gate,time\nB,3\nA,10\nC,10.5\nB,12.2\nB,13.5\nC,13.7\n", "player\n7\n");
  ASSERT_EQ(sorted.runs.runs.size(), 1U);
  EXPECT_DOUBLE_EQ(sorted.time_s(0, 0), 2.2);
  EXPECT_DOUBLE_EQ(sorted.time_s(0, 1), 3.7);
  EXPECT_EQ(sorted.count("stray-passage"), 3U);
  EXPECT_EQ(sorted.runs.counts.strays, 3U);
}

TEST(GateRuns, ABreakThatFitsAsWellAsTheOneTakenLeavesThatTimeEmpty) {
  std::string log = "gate,time\n";
  for (int k = 0; k < 5; ++k) {
    log += run_at(100.0 + 30.0 * k);
  }
  const Sorted sorted = sort_log(log + "A,250\nB,252.1\nB,252.3\nC,253.7\n", "player\n1\n2\n3\n4\n5\n7\n");
  EXPECT_GE(sorted.count("ambiguous-passage"), 1U);
  EXPECT_EQ(sorted.time_s(5, 0), -1.0);
  EXPECT_EQ(sorted.runs.counts.strays, 1U);
}

TEST(GateRuns, OvertakingIsFollowedWhereTheTimesTellItApart) {
  // The squad runs 10 m in 2.2 s and 20 m in 3.7 s; 8 starts 1.4 s after 7, who takes half as long again throughout.
  std::string log = "gate,time\n";
  std::string list = "player\n";
  for (int k = 0; k < 12; ++k) {
    log += run_at(100.0 + 15.0 * k, 2.2 + 0.06 * (k % 3 - 1), 3.7 + 0.11 * (k % 3 - 1));
    list += std::to_string(20 + k) + "\n";
  }
  log += "A,300\nB,303.3\nA,301.4\nB,303.6\nC,305.1\nC,306.2\n";
  const Sorted sorted = sort_log(log, list + "7\n8\n");
  ASSERT_EQ(sorted.runs.runs.size(), 14U);
  EXPECT_DOUBLE_EQ(sorted.time_s(12, 1), 6.2);
  EXPECT_DOUBLE_EQ(sorted.time_s(13, 1), 3.7);
  EXPECT_EQ(sorted.count("overtaking"), 1U);
  EXPECT_EQ(sorted.count("unsorted-lines"), 1U);
  EXPECT_EQ(sorted.runs.counts.in_doubt, 0U);
}

TEST(GateRuns, TwoTooCloseTogetherAreVoidBoth) {
  const Sorted sorted = sort_log("gate,time\nA,10\nA,10.4\nB,12.2\nB,12.4\nC,13.7\nC,13.9\n", "player\n7\n8\n");
  ASSERT_EQ(sorted.runs.runs.size(), 2U);
  EXPECT_EQ(sorted.runs.runs[0].flag, runs::Flag::void_run);
  EXPECT_EQ(sorted.runs.runs[1].flag, runs::Flag::void_run);
  EXPECT_EQ(sorted.time_s(0, 0), -1.0);
  EXPECT_EQ(sorted.count("ambiguous-passage"), 4U);
}

TEST(GateRuns, AWrappedClockCountsOnWhereTheLogSaysAtWhat) {
  const std::string rows = "gate,time\nA,3598\nB,0.2\nC,1.7\n";
  const Sorted told = sort_log("# wraps-at: 3600 s\n" + rows, "player\n7\n");
  EXPECT_DOUBLE_EQ(told.time_s(0, 0), 2.2);
  EXPECT_DOUBLE_EQ(told.time_s(0, 1), 3.7);
  EXPECT_EQ(told.line("clock-wrapped"), 5U);
  const Sorted untold = sort_log(rows, "player\n7\n");
  EXPECT_EQ(untold.line("clock-step"), 4U);
  EXPECT_TRUE(untold.runs.runs.empty() || untold.runs.runs.at(0).flag == runs::Flag::void_run);
  const auto step = std::find_if(untold.problems.begin(), untold.problems.end(),
                                 [](const auto& p) { return p.code == "clock-step"; });
  EXPECT_NE(step->hint.find("# wraps-at: 3600"), std::string::npos);
}

TEST(GateRuns, ARunTooManyOrAnAbsenceIsAskedAboutOneAtATime) {
  const std::string log = "gate,time\n" + run_at(10) + run_at(40) + run_at(70);
  const Sorted too_short = sort_log(log, "player\n7\n8\n");
  EXPECT_EQ(too_short.runs.counts.in_doubt + too_short.runs.counts.not_written, 3U);
  EXPECT_EQ(too_short.count("who-ran"), 1U);
  const Sorted too_long = sort_log(log, "player\n7\n8\n9\n10\n");
  EXPECT_EQ(too_long.runs.counts.in_doubt, 3U);
  EXPECT_EQ(too_long.count("who-ran"), 1U);
  EXPECT_EQ(too_long.count("start-list-mismatch"), 1U);
  const Sorted with_absent = sort_log(log, "player,flag\n7,\n8,absent\n9,\n10,\n");
  EXPECT_EQ(with_absent.runs.counts.in_doubt, 0U);
  ASSERT_EQ(with_absent.runs.runs.size(), 4U);
  EXPECT_EQ(with_absent.runs.runs[1].player, "9");
  EXPECT_EQ(with_absent.runs.runs[3].flag, runs::Flag::absent);
}

// Identity: what was asked about is settled by its answer, typed into the list: three runs, the first not 7's, are
// those of 8, 9 and 10; one that nobody of the list ran leaves two to the others.
TEST(GateRuns, AnAnswerTypedIntoTheListRemovesItsQuestion) {
  const std::string log = "gate,time\n" + run_at(10) + run_at(40) + run_at(70);
  const Sorted told = sort_log(log, "player,time\n7,\n8,line 3\n9,\n10,\n");
  EXPECT_EQ(told.count("who-ran"), 0U);
  EXPECT_EQ(told.runs.counts.in_doubt, 0U);
  EXPECT_EQ(told.runs.runs.at(0).player, "8");
  EXPECT_EQ(told.runs.runs.at(2).player, "10");
  EXPECT_EQ(told.count("no-run"), 1U);
  const Sorted nobody = sort_log(log, "# nobody: 6\nplayer\n7\n8\n");
  EXPECT_EQ(nobody.runs.counts.in_doubt, 0U);
  ASSERT_EQ(nobody.runs.runs.size(), 2U);
  EXPECT_EQ(nobody.runs.runs[1].start_ns, 70'000'000'000);
  EXPECT_EQ(sort_log(log, "player,time\n7,line 4\n").count("unknown-answer"), 1U);
}

TEST(GateRuns, TimesOfTheStartListAnchorIt) {
  const std::string log = "gate,time\n" + run_at(10) + run_at(40) + run_at(70);
  const Sorted sorted = sort_log(log, "player,time\n7,10.2\n8,70.5\n");
  ASSERT_EQ(sorted.runs.runs.size(), 2U);
  EXPECT_EQ(sorted.runs.runs[1].player, "8");
  EXPECT_EQ(sorted.runs.runs[1].start_ns, 70'000'000'000);
  EXPECT_EQ(sorted.runs.counts.in_doubt, 0U);
  EXPECT_EQ(sorted.runs.counts.not_written, 1U);
}

TEST(GateRuns, AStartBrokenByAPasserByIsDroppedWhereTheListHasNoLineForIt) {
  const Sorted sorted = sort_log("gate,time\nA,2\n" + run_at(20) + run_at(50), "player\n7\n8\n");
  ASSERT_EQ(sorted.runs.runs.size(), 2U);
  EXPECT_EQ(sorted.runs.runs[0].start_line, 4U);
  EXPECT_EQ(sorted.runs.counts.strays, 1U);
  EXPECT_EQ(sorted.runs.counts.in_doubt, 0U);
}

TEST(GateRuns, OneGateAtHomeStartsAndEndsACircuit) {
  const std::string map =
      "# course: circuit\n# base-distance: 60 ft\n# start: "
      "self\ngate,mark\nH,start\nF,first\nS,second\nT,third\nH,home\n";
  const Sorted sorted = sort_log("gate,time\nH,10\nF,13.8\nS,17.7\nT,21.8\nH,25.9\nH,40\nF,44\nS,48\nT,52.2\nH,56.4\n",
                                 "player\n7\n8\n", map);
  ASSERT_EQ(sorted.runs.runs.size(), 2U);
  EXPECT_DOUBLE_EQ(sorted.time_s(0, 3), 15.9);
  EXPECT_DOUBLE_EQ(sorted.time_s(1, 3), 16.4);
  const auto back = runs::read_run_log(sorted.csv, "made.csv");
  EXPECT_TRUE(back.problems.empty());
}

// Identity: a workbook is told to be one, and a line that names the delimiter is none of the log's.
TEST(GateRuns, WhatSpreadsheetsSaveIsToldOrRead) {
  text::Problems problems;
  gates::read_gate_log("PK\x03\x04", "gates.csv", problems);
  ASSERT_EQ(problems.size(), 1U);
  EXPECT_EQ(problems[0].code, "not-text");
  problems.clear();
  EXPECT_EQ(gates::read_gate_log("sep=;\ngate;time\nA;1.5\n", "gates.csv", problems).passages.size(), 1U);
  EXPECT_TRUE(problems.empty());
}

TEST(GateRuns, WhatIsWrongInTheFilesIsToldWithItsPlace) {
  text::Problems problems;
  gates::read_gate_log("gate,time\nA,1,5\nA,abc\nA,5.1234567891\n", "gates.csv", problems);
  ASSERT_EQ(problems.size(), 3U);
  EXPECT_EQ(problems[0].code, "field-count");
  EXPECT_EQ(problems[1].code, "bad-time");
  EXPECT_EQ(problems[1].line, 3U);
  EXPECT_EQ(problems[1].column, 3U);
  EXPECT_EQ(problems[2].line, 4U);
  problems.clear();
  gates::read_gate_map("# course: circuit\ngate,mark\nA,start\nB,first\nC,shortstop\n", "map.csv",
                       runs::builtin_courses(), problems);
  ASSERT_EQ(problems.size(), 2U);
  EXPECT_EQ(problems[0].code, "no-base-distance");
  EXPECT_EQ(problems[1].code, "mark-not-on-course");
  problems.clear();
  gates::read_start_list("player,flag\n7,abssent\n", "starts.csv", problems);
  ASSERT_EQ(problems.size(), 1U);
  EXPECT_EQ(problems[0].hint, "'absent' may be meant");
  EXPECT_EQ(sort_log("gate,time\nX,1\n", "player\n").count("unknown-gate"), 1U);
  EXPECT_EQ(sort_log("gate,time\nX,1\n", "player\n", three_gates + "X,-\n").count("unknown-gate"), 0U);
}

// Common practice, no source: whatever order lines and nonsense come in, every passage is accounted for and nothing is
// thrown.
TEST(GateRuns, NonsenseIsCountedNotThrown) {
  std::uint32_t state = 1;
  for (int round = 0; round < 40; ++round) {
    std::string log = "gate,time\n";
    for (int k = 0; k < 60; ++k) {
      state = state * 1'664'525U + 1'013'904'223U;
      log += std::string(1, static_cast<char>('A' + (state >> 24) % 3)) + "," +
             runs::format_number(static_cast<double>(state % 4000) / 100.0) + "\n";
    }
    const Sorted sorted = sort_log(log, "player\n1\n2\n3\n4\n5\n");
    EXPECT_EQ(sorted.runs.counts.passages, 60U);
    for (const gates::GateRun& run : sorted.runs.runs) {
      std::int64_t last = 0;
      for (const auto& at : run.at_ns) {
        EXPECT_TRUE(!at || *at > last);
        last = at.value_or(last);
      }
    }
    EXPECT_FALSE(text::has_errors(runs::read_run_log(sorted.csv, "made.csv").problems));
  }
}

}  // namespace
