// Drills by name, heats, relays in one row, words on slips of paper.
// Identity: what a row says in a coach's words is what the same said column by column is read as.
#include <gtest/gtest.h>

#include <algorithm>
#include <string>

#include "bagsplit/runs/courses/drill.hpp"
#include "bagsplit/runs/log/run_log.hpp"
#include "bagsplit/runs/log/write_run_log.hpp"

namespace {

using namespace bagsplit;
using namespace bagsplit::runs;

RunLogResult read(const std::string& text) {
  return read_run_log(text, "a.csv");
}

// As a plain run log, errors and suspicions counted.
std::string plain(const std::string& text) {
  const RunLogResult out = read(text);
  for (const auto& problem : out.problems) {
    EXPECT_EQ(problem.severity, text::Severity::note) << problem.message;
  }
  return write_run_log(out.log);
}

TEST(Drills, SayWhatTheirColumnsWouldSay) {
  EXPECT_EQ(plain("# drill: rise-and-run\ndate,player,15yd\n2026-04-11,12,4.31\n"),
            plain("# course: straight\n# posture: prone\n# signal: mine\ndate,player,15yd\n2026-04-11,12,4.31\n"));
}

TEST(Drills, GiveWayToACellAndAreSaidAnewInTheNextRow) {
  EXPECT_EQ(plain("date,player,drill,posture,15yd\n2026-04-11,12,rise-and-run,standing,4.31\n"
                  "2026-04-11,7,rise-and-run,,4.40\n2026-04-11,3,stand-and-run,,4.10\n"),
            plain("# signal: mine\ndate,player,course,posture,15yd\n2026-04-11,12,straight,standing,4.31\n"
                  "2026-04-11,7,straight,prone,4.40\n2026-04-11,3,straight,standing,4.10\n"));
}

TEST(Drills, BuiltInOnesAreOverCoursesThereAre) {
  ASSERT_EQ(builtin_drills().size(), 5U);  // Identity: data/courses/drills.json
  for (const Drill& drill : builtin_drills()) {
    EXPECT_NE(find_course(builtin_courses(), drill.course), nullptr) << drill.name;
    EXPECT_FALSE(drill.about.empty()) << drill.name;
  }
}

const std::string heats =
    "# course: straight\n# finish-at: 15 yd\ndate,player,heat,finish,15yd,flag\n"
    "2026-04-11,12,1,1,4.31,\n2026-04-11,7,1,2,,\n2026-04-11,3,1,2,,\n2026-04-11,9,1,,,\n2026-04-11,14,1,,,fall\n";

// Identity: 15 yd of 0.9144 m each.
TEST(Heats, HoldTheirRunsInTheOrderOfTheFile) {
  const RunLog log = read(heats).log;
  ASSERT_EQ(log.heats.size(), 1U);
  const Heat& heat = log.heats.front();
  EXPECT_EQ(log.name(heat.finish_mark), "15yd");
  EXPECT_NEAR(heat.finish_m, 13.716, 1e-9);
  EXPECT_TRUE(heat.ties_called);
  std::string seen;
  for (const Finisher& finisher : log.finishers_of(heat)) {
    EXPECT_TRUE(log.runs[finisher.run].in_heat);
    seen += log.name(log.runs[finisher.run].player) + ":" + std::to_string(finisher.place) + " ";
  }
  EXPECT_EQ(seen, "12:1 7:2 3:2 9:0 14:0 ");
}

TEST(Heats, ComeBackAsTheyWereWritten) {
  const std::string once = plain(heats);
  EXPECT_EQ(plain(once), once);
}

TEST(Relays, InOneRowAreTheirLegs) {
  EXPECT_EQ(plain("# base-distance: 60 ft\ndate,team,way,runners,clock\n"
                  "2026-04-11,red,first,12 7 3,5.31 - 16.2\n2026-04-11,blue,third,5 2,11.4\n"),
            plain("# base-distance: 60 ft\ndate,team,leg,player,course,trial,second,home\n"
                  "2026-04-11,red,1,12,home-second,1,5.31,\n2026-04-11,red,2,7,second-home,1,,\n"
                  "2026-04-11,red,3,3,home-second,1,16.2,\n"
                  "2026-04-11,blue,1,5,home-second-reverse,1,,\n2026-04-11,blue,2,2,second-home-reverse,1,,11.4\n"));
}

TEST(Words, OfASlipAreRead) {
  EXPECT_EQ(plain("# base-distance: 60'\ndate,player,course,20',first,flag\n2026-04-11,12,once around,1.9,4.05,\n"
                  "2026-04-11,12,home to first,1.8,fell,\n2026-04-11,7,home-first,1.8,,FS\n"),
            plain("# base-distance: 60 ft\ndate,player,course,20ft,first,flag\n2026-04-11,12,circuit,1.9,4.05,\n"
                  "2026-04-11,12,home-first,1.8,,fall\n2026-04-11,7,home-first,1.8,,false-start\n"));
}

}  // namespace
