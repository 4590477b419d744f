// Identity: the rules of the format as its description states them.
#include <gtest/gtest.h>

#include <algorithm>
#include <string>
#include <vector>

#include "bagsplit/runs/courses/course_file.hpp"
#include "bagsplit/runs/log/run_log.hpp"
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

TEST(ReadingRules, EveryKeyIsADefault) {
  const auto [log, problems] = read_run_log(
      "# date: 2026-04-11\n# player: 12\n# course: circuit\n# trial: 3\n# team: red\n# leg: 2\n# place: North Field, "
      "east,,,,\n"
      "# timer: AK\n# device: video\n# start: contact\n# posture: swing\n# splits: lap\n# base-distance: 18.288 m\n"
      "# surface: wet grass\n# wind: -4.5 km/h\n# temperature: 64.4 F\n# flag: fall\n# note: all of it\n## remark: "
      "none\n"
      "first,second\n4.05,3.97\n",
      "a.csv");
  EXPECT_EQ(codes_of(problems), "");
  ASSERT_EQ(log.runs.size(), 1U);
  const auto& run = log.runs.front();
  EXPECT_EQ(format_date(run.date), "2026-04-11");
  EXPECT_EQ(log.name(run.player), "12");
  EXPECT_EQ(log.courses[run.course].name, "circuit");
  EXPECT_EQ(run.trial, 3);
  EXPECT_EQ(log.name(run.team), "red");
  EXPECT_EQ(run.leg, 2);
  EXPECT_EQ(log.name(run.place), "North Field, east");
  EXPECT_EQ(log.name(run.surface), "wet grass");
  EXPECT_EQ(run.posture, Posture::swing);
  EXPECT_EQ(run.flag, Flag::fall);
  EXPECT_EQ(run.base_distance_m, 18.288);
  EXPECT_DIGITS(static_cast<double>(run.wind_mps), -1.25, 7);
  EXPECT_DIGITS(static_cast<double>(run.temperature_c), 18.0, 7);
  const Reading& reading = log.readings.front();
  EXPECT_EQ(log.name(reading.timer), "AK");
  EXPECT_EQ(reading.device, Device::video);
  EXPECT_EQ(reading.start, StartKind::contact);
  EXPECT_EQ(log.name(reading.note), "all of it");
  EXPECT_TRUE(reading.laps);
  EXPECT_EQ(log.splits.size(), 2U);
}

TEST(ReadingRules, SpreadsheetPaddingIsNoMatter) {
  const auto result = read_run_log(
      "\xEF\xBB\xBF\"# base-distance: 60 ft\";;;\r\n# timer: "
      "AK;;;\r\nDate;PLAYER;Course;First\r\n;;;\r\n2026-04-11;1;Home-First;4,05\r\n;;;\r\n",
      "a.csv");
  EXPECT_EQ(codes_of(result.problems), "");
  ASSERT_EQ(result.log.splits.size(), 1U);
  EXPECT_EQ(result.log.splits.front().time_s, 4.05);
  EXPECT_EQ(result.log.name(result.log.readings.front().timer), "AK");
  EXPECT_EQ(result.log.rows_read, 1U);
}

TEST(ReadingRules, ColumnsCountCharactersAndNotTheByteOrderMark) {
  const auto problems = read_run_log(
                            "\xEF\xBB\xBF"
                            "datum,date,player,course,10m\n",
                            "a.csv")
                            .problems;
  EXPECT_EQ(problems.front().line, 1U);
  EXPECT_EQ(problems.front().column, 1U);
  EXPECT_EQ(problems.front().length, 5U);
  const auto after =
      read_run_log("date,player,course,10m\n2026-04-11,\"Zo\xC3\xAB, \xE8\xB5\xB0\",straight,x\n", "a.csv").problems;
  EXPECT_EQ(after.front().line, 2U);
  EXPECT_EQ(after.front().column, 30U);
  EXPECT_EQ(after.front().length, 1U);
}

TEST(ReadingRules, AProblemAfterALineEndInQuotesStandsOnItsOwnLine) {
  const auto problems =
      read_run_log("note,date,player,course,10m\n\"two\nlines\",2026-04-11,1,straight,x\n", "a.csv").problems;
  EXPECT_EQ(problems.front().line, 3U);
  EXPECT_EQ(problems.front().column, 30U);
  EXPECT_EQ(problems.front().source_line, "lines\",2026-04-11,1,straight,x");
}

TEST(ReadingRules, TheOrderOfDatesIsForTheWholeFile) {
  const auto result = read_run_log("# date: 11/04/2026\n# dates: dmy\nplayer,course,10m\n1,straight,2.31\n", "a.csv");
  EXPECT_EQ(codes_of(result.problems), "");
  EXPECT_EQ(format_date(result.log.runs.front().date), "2026-04-11");
}

TEST(ReadingRules, AMissingLapLeavesLaterMarksUnknown) {
  const auto result = read_run_log(
      "# base-distance: 60 ft\n# splits: "
      "lap\ndate,player,course,first,10yd,second,third,home\n2026-04-11,1,circuit,2.05,2.00,,4.08,4.21\n"
      "2026-04-11,2,circuit,4.05,,3.97,4.08,4.21\n",
      "a.csv");
  EXPECT_EQ(codes_of(result.problems), "missing-lap");
  EXPECT_EQ(result.problems.front().severity, text::Severity::note);
  ASSERT_EQ(result.log.readings.size(), 2U);
  EXPECT_EQ(result.log.readings[0].split_count, 2);  // 10yd, then first
  EXPECT_EQ(result.log.splits[1].time_s, 4.05);
  EXPECT_EQ(result.log.readings[1].split_count, 4);  // nobody pressed at 10yd: no lap of this run
}

TEST(ReadingRules, MarksAreOrderedAlongTheCourseWhateverTheColumns) {
  const auto result = read_run_log(
      "# base-distance: 60 "
      "ft\ndate,player,course,third,30ft,move,second\n2026-04-11,1,home-second-reverse,4.31,2.20,0.25,8.42\n",
      "a.csv");
  EXPECT_EQ(codes_of(result.problems), "");
  std::string order;
  for (const Split& split : result.log.splits) {
    order += result.log.name(split.mark) + " ";
  }
  EXPECT_EQ(order, "move 30ft third second ");
  EXPECT_TRUE(result.log.splits.front().is_move);
  EXPECT_DIGITS(result.log.splits.back().distance_m, 120.0 * metres_per_foot, 15);
}

TEST(ReadingRules, ABlankTrialIsANewRunAndTakesTheLowestFreeNumber) {
  const auto result = read_run_log(
      "# base-distance: 60 ft\ndate,player,course,trial,timer,first\n2026-04-11,1,home-first,,AK,4.05\n"
      "2026-04-11,1,home-first,1,AK,4.11\n2026-04-11,1,home-first,,AK,4.08\n2026-04-11,1,home-first,1,RB,4.15\n"
      "2026-04-11,1,home-first,3,AK,4.02\n2026-04-11,2,home-first,,AK,4.52\n2026-04-12,1,home-first,,AK,4.12\n",
      "a.csv");
  EXPECT_EQ(codes_of(result.problems), "");
  std::string told;
  for (const auto& run : result.log.runs) {
    told +=
        result.log.name(run.player) + ":" + std::to_string(run.trial) + "x" + std::to_string(run.reading_count) + " ";
  }
  EXPECT_EQ(told, "1:2x1 1:1x2 1:4x1 1:3x1 1:1x1 2:1x1 ");
}

TEST(ReadingRules, PlacePartsSessionsAndReadingsMayStandInSeveralFiles) {
  const std::string header = "# base-distance: 60 ft\ndate,place,player,course,trial,timer,first\n";
  const std::string a = header + "2026-04-11,north,1,home-first,1,AK,4.05\n2026-04-11,south,1,home-first,1,AK,4.11\n";
  const std::string b = header + "2026-04-11,north,1,home-first,1,RB,4.15\n";
  const std::vector<LogText> files{{a, "a.csv"}, {b, "b.csv"}};
  const auto result = read_run_logs(files);
  EXPECT_EQ(codes_of(result.problems), "");
  ASSERT_EQ(result.log.runs.size(), 2U);
  EXPECT_EQ(result.log.runs[0].reading_count, 2);
  EXPECT_EQ(result.log.readings[1].file, 1);
  EXPECT_EQ(result.log.readings[1].line, 3U);
}

TEST(ReadingRules, OwnColumnsAreCarried) {
  const auto result = read_run_log(
      "date,player,course,10m,x-lane,X-Mood\n2026-04-11,1,straight,2.31,4,\n2026-04-11,2,straight,2.41,,glad\n",
      "a.csv");
  EXPECT_EQ(codes_of(result.problems), "");
  ASSERT_EQ(result.log.carried.size(), 2U);
  EXPECT_EQ(result.log.name(result.log.carried[0].column), "x-lane");
  EXPECT_EQ(result.log.name(result.log.carried[1].text), "glad");
  EXPECT_EQ(result.log.carried[1].reading, 1U);
}

TEST(ReadingRules, EveryProblemOfEveryFileIsFoundInOnePass) {
  const std::string a =
      "# base-distanse: 60 ft\ndate,player,course,frist,10m\n2026-04-31,1,straight,,2.31\n2026-04-11,2,circus,,x\n";
  const std::string b = "date,player,course,10m\n2026-04-11,,straight,2:75\n";
  const std::vector<LogText> files{{a, "a.csv"}, {b, "b.csv"}};
  const auto problems = read_run_logs(files).problems;
  std::string told;
  for (const text::Problem& problem : problems) {
    told += problem.path + ":" + std::to_string(problem.line) + ":" + std::to_string(problem.column) + " " +
            problem.code + "\n";
  }
  EXPECT_EQ(told,
            "a.csv:1:3 unknown-key\na.csv:2:20 unknown-column\na.csv:3:1 bad-date\na.csv:4:14 "
            "unknown-course\na.csv:4:22 bad-time\n"
            "b.csv:2:12 missing-value\nb.csv:2:22 bad-time\n");
}

TEST(ReadingRules, OwnCoursesAreRunLikeBuiltInOnes) {
  text::Problems problems;
  ReadOptions options;
  options.courses = read_courses(
      R"({"schema": "bagsplit.courses/1", "courses": [
            {"name": "gap-run", "bags": ["home", "first", "second"], "finish": "through", "touch": "edge", "marks": ["30ft"]},
            {"name": "dash", "length": "30 yd", "marks": ["12yd", "30 yd"]}]})",
      "courses.json", builtin_courses(), problems);
  EXPECT_EQ(codes_of(problems), "");
  ASSERT_EQ(options.courses.size(), 2U);
  EXPECT_EQ(options.courses[0].segments.back().key, "second");
  EXPECT_EQ(options.courses[0].finish, Finish::through);
  EXPECT_DIGITS(*options.courses[1].length_m, 27.432, 15);
  const auto result = read_run_log(
      "# base-distance: 60 ft\n# splits: "
      "lap\ndate,player,course,30ft,first,second,12yd,30yd\n2026-04-11,1,gap-run,2.35,1.70,3.97,,\n"
      "2026-04-11,1,gap-run,,4.05,3.97,,\n2026-04-11,1,dash,,,,2.65,2.40\n",
      "a.csv", options);
  EXPECT_EQ(codes_of(result.problems), "missing-lap");  // 30ft is a lap of every gap-run
  ASSERT_EQ(result.log.readings.size(), 3U);
  // Source: edge arithmetic of old rule 1.06: one bag width, then one and a half, short of the base distances.
  EXPECT_DIGITS(result.log.splits[2].distance_m, (120.0 - 2.5 * 1.25) * metres_per_foot, 14);
}

TEST(ReadingRules, LengthsMayBeTypedAsSpreadsheetsAndPeopleDo) {
  // Source: international yard and pound agreement (1959): 1 ft = 0.3048 m, 1 yd = 0.9144 m.
  for (const char* base : {"18,288 m", "18,29 m", "60 feet", "60 foot", "20 yards"}) {
    const auto [log, problems] = read_run_log(
        "# base-distance: " + std::string(base) + "\ndate,player,course,first\n11-Apr-26,12,home-first,4.05\n",
        "a.csv");
    EXPECT_EQ(codes_of(problems), "") << base;
    ASSERT_EQ(log.runs.size(), 1U);
    EXPECT_NEAR(log.runs.front().base_distance_m, 18.288, 0.01) << base;
    EXPECT_EQ(format_date(log.runs.front().date), "2026-04-11");
  }
}

// One distance is one mark, whatever its unit is called.
TEST(ReadingRules, ADistanceInWordsIsTheSameMark) {
  const std::vector<LogText> files{
      {"date;player;course;trial;timer;10 yards;9,2m\n2026-04-11;12;straight;1;AK;2,31;2,33\n", "a.csv"},
      {"date,player,course,trial,timer,10yd,9.2m\n2026-04-11,12,straight,1,RB,2.35,2.37\n", "b.csv"}};
  const auto [log, problems] = read_run_logs(files);
  EXPECT_EQ(codes_of(problems), "");
  ASSERT_EQ(log.splits.size(), 4U);
  EXPECT_EQ(log.name(log.splits[0].mark), "10yd");
  EXPECT_EQ(log.splits[2].mark, log.splits[0].mark);
  EXPECT_EQ(log.splits[3].mark, log.splits[1].mark);
}

}  // namespace
