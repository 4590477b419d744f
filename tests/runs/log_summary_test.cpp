#include "bagsplit/runs/log/log_summary.hpp"

#include <gtest/gtest.h>

#include "bagsplit/runs/log/run_log.hpp"

namespace bagsplit::runs {
namespace {

// Identity: counts of a log small enough to count by hand.
TEST(LogSummary, CountsWhatIsThere) {
  const auto result = read_run_log(
      "# base-distance: 60 ft\n"
      "# device: stopwatch\n"
      "# start: signal\n"
      "date,player,course,trial,timer,place,first,second,third,home,flag\n"
      "2026-04-18,12,circuit,1,AK,park,4.05,8.02,12.10,16.31,\n"
      "2026-04-18,12,circuit,1,RB,park,4.11,8.05,12.22,16.36,\n"
      "2026-04-18,7,circuit,1,AK,park,4.35,8.52,12.80,,fall\n"
      "2026-04-18,7,home-first,1,AK,hall,4.01,,,,\n"
      "2026-04-11,7,home-first,1,,park,4.03,,,,\n",
      "night.csv");
  ASSERT_FALSE(has_errors(result.problems));
  const LogSummary summary = summarise(result.log);
  EXPECT_EQ(summary.files, 1U);
  EXPECT_EQ(summary.rows, 5U);
  EXPECT_EQ(summary.runs, 4U);
  EXPECT_EQ(summary.readings, 5U);
  EXPECT_EQ(summary.times, 13U);
  EXPECT_EQ(summary.players, 2U);
  EXPECT_EQ(summary.dates, 2U);
  EXPECT_EQ(summary.sessions, 3U);
  EXPECT_EQ(summary.first_date, Date(std::chrono::year(2026) / 4 / 11));
  EXPECT_EQ(summary.last_date, Date(std::chrono::year(2026) / 4 / 18));
  ASSERT_EQ(summary.courses.size(), 2U);
  EXPECT_EQ(summary.courses[0].course, "home-first");
  EXPECT_EQ(summary.courses[0].runs, 2U);
  EXPECT_EQ(summary.courses[0].players, 1U);
  EXPECT_EQ(summary.courses[1].course, "circuit");
  EXPECT_EQ(summary.courses[1].players, 2U);
  ASSERT_EQ(summary.flags.size(), 1U);
  EXPECT_EQ(summary.flags[0].word, "fall");
  ASSERT_EQ(summary.timers.size(), 3U);
  std::size_t readings = 0;
  for (const Tally& timer : summary.timers) {
    readings += timer.count;
  }
  EXPECT_EQ(readings, summary.readings);
}

TEST(LogSummary, AnEmptyLogHasNoDates) {
  const LogSummary summary = summarise({});
  EXPECT_EQ(summary.runs, 0U);
  EXPECT_FALSE(summary.first_date.has_value());
  EXPECT_TRUE(summary.courses.empty());
}

}  // namespace
}  // namespace bagsplit::runs
