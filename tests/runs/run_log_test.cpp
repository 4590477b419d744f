#include "bagsplit/runs/log/run_log.hpp"

#include <gtest/gtest.h>

#include <string>

#include "bagsplit/runs/typed.hpp"
#include "bagsplit/runs/units.hpp"
#include "support/digits.hpp"

namespace {

using namespace bagsplit::runs;
namespace text = bagsplit::text;

std::string codes_of(const text::Problems& problems) {
  std::string codes;
  for (const text::Problem& problem : problems) {
    codes += (codes.empty() ? "" : " ") + problem.code;
  }
  return codes;
}

constexpr std::string_view two_watches = R"(# base-distance: 60 ft
# device: stopwatch
# start: signal
# splits: cumulative
date,player,course,trial,timer,first,second,third,home,flag,note
2026-04-11,12,circuit,1,AK,4.05,8.02,12.10,16.31,,
2026-04-11,12,circuit,1,RB,4.11,8.05,12.22,16.36,,second watch on the same run
)";

// Identity: the example as it stands in the description of the format.
TEST(RunLogReading, TwoWatchesAreTwoReadingsOfOneRun) {
  const auto [log, problems] = read_run_log(two_watches, "night1.csv");
  EXPECT_EQ(codes_of(problems), "");
  ASSERT_EQ(log.runs.size(), 1U);
  const auto& run = log.runs.front();
  EXPECT_EQ(log.name(run.player), "12");
  EXPECT_EQ(log.courses[run.course].name, "circuit");
  EXPECT_EQ(run.trial, 1);
  EXPECT_EQ(format_date(run.date), "2026-04-11");
  EXPECT_EQ(run.base_distance_m, 60.0 * metres_per_foot);
  ASSERT_EQ(run.reading_count, 2);
  const auto readings = log.readings_of(run);
  EXPECT_EQ(log.name(readings[0].timer), "AK");
  EXPECT_EQ(log.name(readings[1].note), "second watch on the same run");
  EXPECT_EQ(readings[1].line, 7U);
  const auto splits = log.splits_of(readings[1]);
  ASSERT_EQ(splits.size(), 4U);
  EXPECT_EQ(log.name(splits[3].mark), "home");
  EXPECT_EQ(splits[3].time_s, 16.36);
  EXPECT_DIGITS(splits[3].distance_m, 240.0 * metres_per_foot, 14);
  EXPECT_EQ(log.rows_read, 2U);
}

// Identity: laps are differences of splits.
TEST(RunLogReading, LapsAreSummed) {
  const auto [log, problems] = read_run_log(
      "# base-distance: 60 ft\n# splits: lap\ndate,player,course,first,second,third,home\n"
      "2026-04-11,12,circuit,4.05,3.97,4.08,4.21\n",
      "laps.csv");
  EXPECT_EQ(codes_of(problems), "");
  ASSERT_EQ(log.splits.size(), 4U);
  EXPECT_DIGITS(log.splits[3].time_s, 16.31, 14);
  EXPECT_TRUE(log.readings.front().laps);
}

// Identity: a row may override every default of its file.
TEST(RunLogReading, AColumnOverridesADefaultRowByRow) {
  const auto [log, problems] = read_run_log(
      "# start: signal\n# date: 2026-04-11\n# course: "
      "straight\nplayer;start;10yd;20yd\n1;;2,31;3,70\n1;self;2,05;3,44\n"
      "1;beam 0.5 m;1,95;3,30\n",
      "straight.csv");
  EXPECT_EQ(codes_of(problems), "");
  ASSERT_EQ(log.readings.size(), 3U);
  EXPECT_EQ(log.readings[0].start, StartKind::signal);
  EXPECT_EQ(log.readings[1].start, StartKind::self);
  EXPECT_EQ(log.readings[2].start, StartKind::beam);
  EXPECT_EQ(log.readings[2].beam_distance_m, 0.5);
  EXPECT_EQ(log.splits[2].time_s, 2.05);
  EXPECT_DIGITS(log.splits[2].distance_m, 9.144, 15);
  EXPECT_EQ(log.runs[2].trial, 3);
}

}  // namespace
