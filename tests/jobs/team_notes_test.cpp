// What is told of a whole team: both ways round, and sprints against the most of an evening.
#include "bagsplit/jobs/profile/team_notes.hpp"

#include <gtest/gtest.h>

#include <string>
#include <vector>

#include "bagsplit/runs/log/run_log.hpp"

namespace {

using namespace bagsplit;

jobs::OwnTimes usual(const std::string& course, double time_s, runs::Posture posture = runs::Posture::standing) {
  jobs::OwnTimes out;
  out.course = course;
  out.mark = "second";
  out.posture = posture;
  out.base_distance_m = 18.288;
  out.usual_s = time_s;
  return out;
}

// Computed: differences 0.1, 0.2 and 0.3 s: mean 0.2, SD 0.1, half width 2.91999 * 0.1 / sqrt(3) = 0.168586 at 90 %.
TEST(BothWays, IsTheMeanOverChildrenWithStudentsInterval) {
  std::vector<jobs::OwnRecord> records(4);
  for (std::size_t k = 0; k < 3; ++k) {
    records[k].times = {usual("home-second", 8.0), usual("home-second-reverse", 8.1 + 0.1 * static_cast<double>(k))};
  }
  records[3].times = {usual("home-second", 8.0), usual("home-second-reverse", 9.9, runs::Posture::prone)};
  const auto told = jobs::both_ways(records, 0.9);
  ASSERT_TRUE(told);
  EXPECT_EQ(told->players, 3U);  // lying and standing are not compared
  EXPECT_NEAR(told->third_less_first_s, 0.2, 1e-12);
  EXPECT_NEAR(told->lo_s, 0.2 - 0.168586, 1e-5);
  EXPECT_NEAR(told->hi_s, 0.2 + 0.168586, 1e-5);
  EXPECT_TRUE(told->surely());
  // A slip of a second in one child's only run widens it: nothing is sure then.
  records[0].times[1].usual_s += 1.0;
  EXPECT_FALSE(jobs::both_ways(records, 0.9)->surely());
  records.resize(2);
  EXPECT_FALSE(jobs::both_ways(records, 0.9));
}

// Identity: runs are counted, not watches; who was absent did not sprint, who fell did; a relay leg is a sprint.
TEST(Sprints, AreCountedUpToTheLastEvening) {
  const runs::RunLog log = runs::read_run_log(
                               "# base-distance: 60 ft\n"
                               "date,player,course,trial,timer,first,flag,team,leg\n"
                               "2026-05-01,7,home-first,1,AK,4.1,,,\n"
                               "2026-05-02,7,home-first,1,AK,4.1,,,\n"
                               "2026-05-08,7,home-first,1,AK,4.1,,,\n"
                               "2026-05-08,7,home-first,1,RB,4.2,,,\n"
                               "2026-05-08,7,home-first,2,AK,,fall,,\n"
                               "2026-05-08,7,home-first,3,AK,,absent,,\n"
                               "2026-05-08,7,home-first,1,AK,4.0,,red,1\n"
                               "2026-05-09,7,home-first,1,AK,4.0,,,\n",
                               "log.csv")
                               .log;
  ASSERT_FALSE(log.runs.empty());
  std::vector<std::uint32_t> all;
  for (std::uint32_t k = 0; k < log.runs.size(); ++k) {
    all.push_back(k);
  }
  const runs::Date evening(std::chrono::year(2026) / 5 / 8);
  const jobs::Sprints told = jobs::sprints_of(log, all, evening);
  EXPECT_EQ(told.last_evening, 3U);
  EXPECT_EQ(told.week, 4U);  // 2 to 8 May
}

}  // namespace
