#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <stdexcept>
#include <string>
#include <vector>

#include "bagsplit/runs/false_start.hpp"
#include "bagsplit/runs/log/run_log.hpp"
#include "bagsplit/runs/typed.hpp"
#include "bagsplit/timing/reading_error.hpp"

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

std::string codes_in(const std::string& text, const ReadOptions& options = {}) {
  return codes_of(read_run_log(text, "a.csv", options).problems);
}

// Source: Graubner & Nixdorf (2011), New Studies in Athletics 26(1/2), 19-53, men's 100 m final of Berlin 2009, the
// winner's cumulative splits from the gun; and Beijing 2008 as in Mackala & Mero (2013), J Hum Kinet 36, 149-161: the
// fastest runs published.
constexpr std::string_view fastest_runs =
    "# course: straight\n# device: video\n# date: 2009-08-16\n# posture: crouch\n"
    "player,10m,20m,30m,40m,50m,60m,70m,80m,90m,100m\n"
    "a,1.88,2.88,3.78,4.64,5.47,6.29,7.10,7.92,8.74,9.58\n"
    "b,1.89,2.88,3.78,4.64,5.47,6.29,7.10,7.92,8.75,9.58\n"
    "c,1.85,2.87,3.78,4.65,5.50,6.32,7.14,7.96,8.79,9.69\n";

TEST(Suspicions, TheFastestRunsEverAreNotImpossible) {
  EXPECT_EQ(codes_in(std::string(fastest_runs)), "");
}

// Identity: a time a fifth faster than those is.
TEST(Suspicions, FasterThanTheFastestIsImpossible) {
  std::string text(fastest_runs);
  text.replace(text.find("a,1.88"), 6, "a,1.48");
  EXPECT_EQ(codes_in(text), "impossible-speed");
  text = fastest_runs;
  text.replace(text.find("8.74,9.58"), 9, "8.44,9.58");
  EXPECT_EQ(codes_in(text), "impossible-speed");
}

// Source: Haugen, Tonnessen & Seiler (2012), J Strength Cond Res 26(2), 473-479: a flying start saves up to 0.7 s, so
// the bound for a start from rest must not be put on a beam start.
TEST(Suspicions, AFlyingStartMayBeFaster) {
  const std::string rows = "date,player,course,start,device,10m\n2026-04-28,1,straight,beam 1 m,gate,1.25\n";
  EXPECT_EQ(codes_in(rows), "");
  std::string from_rest = rows;
  from_rest.replace(from_rest.find("beam 1 m"), 8, "self");
  EXPECT_EQ(codes_in(from_rest), "impossible-speed");
}

// Identity: what the reader allows for is what the built-in device profiles (data/devices, sources there) say.
TEST(Suspicions, TheBiasAllowedForIsThatOfTheDeviceProfiles) {
  const StartBiases told = bagsplit::timing::start_biases(bagsplit::timing::DeviceBook());
  const StartBiases taken = SuspicionLimits().start_bias;
  for (std::size_t device = 0; device < told.size(); ++device) {
    for (std::size_t start = 0; start < told[device].size(); ++start) {
      EXPECT_NEAR(taken[device][start].mean_s, told[device][start].mean_s, 0.0005) << device << " " << start;
      EXPECT_NEAR(taken[device][start].sd_s, told[device][start].sd_s, 0.0005) << device << " " << start;
    }
  }
}

// Computed: data/devices/stopwatch.json, by hand: the clock is started on hearing the call 0.256 s late on average, SD
// 0.14 s. A fast child's 5 m in 1.25 s reads 1.25 - 0.256 - 2 * 0.14 = 0.71 s then, which no body runs by gates.
TEST(Suspicions, AHandStartedTimeIsJudgedAfterItsBias) {
  const auto codes = [](const std::string& how) {
    return codes_in("# date: 2026-04-28\n# course: straight\nplayer,start,device,5m,20m\n1," + how + "\n");
  };
  EXPECT_EQ(codes("signal,stopwatch,0.71,3.12"), "");
  EXPECT_EQ(codes("self,stopwatch,0.80,3.12"), "");
  EXPECT_EQ(codes("signal,gate,0.71,3.12"), "impossible-speed");
  EXPECT_EQ(codes("signal,video,0.71,3.12"), "impossible-speed");
  EXPECT_EQ(codes("signal,stopwatch,0.25,3.12"), "impossible-speed");
  EXPECT_EQ(codes("beam 1 m,stopwatch,,1.2"), "impossible-speed");
}

// Identity: a profile of one's own with a larger bias allows for more.
TEST(Suspicions, AProfileOfOnesOwnIsAllowedFor) {
  const std::string text = "# date: 2026-04-28\n# course: straight\nplayer,start,5m,20m\n1,self,0.45,2.7\n";
  EXPECT_EQ(codes_in(text), "impossible-speed");
  ReadOptions options;
  options.limits.start_bias[0][1] = {-0.6, 0.1};
  EXPECT_EQ(codes_in(text, options), "");
}

// Identity: a first move before the call is kept, told with what to do, and the run is judged from the move.
TEST(Suspicions, AMoveBeforeTheCallIsAJumpedStart) {
  const std::string head = "# date: 2026-04-28\n# course: straight\n# device: video\nplayer,flag,move,5m,20m\n";
  const auto read = [&](const std::string& row) { return read_run_log(head + row + "\n", "a.csv"); };
  const RunLogResult early = read("1,,-0.30,0.85,3.10");
  ASSERT_EQ(codes_of(early.problems), "false-start");
  EXPECT_EQ(early.problems[0].severity, text::Severity::suspicion);
  EXPECT_NE(early.problems[0].message.find("0.3 s before the call"), std::string::npos);
  EXPECT_NE(early.problems[0].hint.find("flag the run false-start"), std::string::npos);
  ASSERT_EQ(early.log.splits.size(), 3U);
  EXPECT_EQ(early.log.splits[0].time_s, -0.30);
  EXPECT_EQ(codes_of(read("1,false-start,-0.30,0.85,3.10").problems), "");
  EXPECT_TRUE(text::has_errors(read("1,,0.20,0.85,3.10").problems));
  EXPECT_EQ(codes_of(read("1,,-6.00,1.25,3.10").problems), "bad-time");
  EXPECT_EQ(codes_of(read("1,,0.20,-1.25,3.10").problems), "bad-time");
}

// Source: World Athletics Technical Rules 16.6: 0.100 s. Press error: Am J Phys 87(2), 110 (2019): SD 0.07 s for each
// press.
TEST(Suspicions, AFalseStartIsCalledOnGatesAndOnHandWatchesOnlyBeyondTheirError) {
  const auto codes = [](const char* device, const char* move, const ReadOptions& options = {}) {
    return codes_in(std::string("# course: straight\n# date: 2026-04-28\nplayer,device,move,10m\n1,") + device + "," +
                        move + ",2.24\n",
                    options);
  };
  EXPECT_EQ(codes("gate", "0.099"), "false-start");
  EXPECT_EQ(codes("video", "0.099"), "false-start");
  EXPECT_EQ(codes("gate", "0.100"), "");
  EXPECT_EQ(codes("stopwatch", "0.05"), "");
  // Common practice, no source: two presses 0.03 s apart or closer are doubted, whatever their error.
  EXPECT_EQ(codes("stopwatch", "0.00"), "double-press");
  EXPECT_EQ(codes("stopwatch", "0.03"), "double-press");
  EXPECT_EQ(codes("stopwatch", "0.031"), "");
  // Identity: the rule is is_false_start(), whatever the error of the presses.
  for (const double sd_s : {0.0, 0.02, 0.04, 0.0578, 0.07, 0.1}) {
    ReadOptions other;
    other.limits.press_error_s = sd_s;
    EXPECT_EQ(codes("stopwatch", "0.005", other) == "false-start", is_false_start(0.005, Device::stopwatch, sd_s))
        << sd_s;
  }
}

// Source: World Athletics Technical Rules 16.6: below 0.100 s.
TEST(FalseStart, OnGatesAndVideoTheThresholdDecides) {
  for (const Device device : {Device::gate, Device::video}) {
    EXPECT_TRUE(is_false_start(0.099, device, 0.0));
    EXPECT_TRUE(is_false_start(0.099, device, 0.08));
    EXPECT_FALSE(is_false_start(0.100, device, 0.0));
    EXPECT_FALSE(is_false_start(0.101, device, 0.08));
    EXPECT_TRUE(is_false_start(-0.3, device, 0.01));
  }
}

// Identity: on a hand watch the press error is allowed for, one-sided 5%: Phi(1.645) = 0.95.
TEST(FalseStart, OnAHandWatchThePressErrorIsAllowedFor) {
  EXPECT_NEAR(0.5 * std::erfc(-hand_false_start_z / std::sqrt(2.0)), 0.95, 1e-12);
  EXPECT_FALSE(is_false_start(0.05, Device::stopwatch, 0.08));
  EXPECT_FALSE(is_false_start(-0.03, Device::stopwatch, 0.08));
  EXPECT_TRUE(is_false_start(-0.04, Device::stopwatch, 0.08));
  EXPECT_TRUE(is_false_start(0.05, Device::stopwatch, 0.0));
  EXPECT_THROW(is_false_start(std::numeric_limits<double>::quiet_NaN(), Device::gate, 0.0), std::domain_error);
  EXPECT_THROW(is_false_start(0.1, Device::stopwatch, -0.1), std::domain_error);
}

TEST(Suspicions, AFlaggedFalseStartIsNotCalledAgain) {
  EXPECT_EQ(codes_in("# course: straight\ndate,player,device,move,10m,flag\n2026-04-28,1,gate,0.05,2.24,false-start\n"),
            "");
}

// Identity: a date is late or not by the date given, never by a clock.
TEST(Suspicions, TodayIsGivenNotLookedUp) {
  const std::string text = "date,player,course,10m\n2062-04-11,1,straight,2.31\n";
  EXPECT_EQ(codes_in(text), "");
  ReadOptions options;
  options.today = Date{std::chrono::year{2062} / 4 / 11};
  EXPECT_EQ(codes_in(text, options), "");
  options.today = *options.today - std::chrono::days{1};
  EXPECT_EQ(codes_in(text, options), "future-date");
}

TEST(Suspicions, TheyStayInTheLogMarkedAndStrictMakesThemErrors) {
  const std::string text =
      "# base-distance: 60 ft\ndate,player,course,first\n2026-04-11,1,home-first,34.05\n2026-04-11,2,home-first,4.05\n";
  const auto lax = read_run_log(text, "a.csv");
  EXPECT_EQ(codes_of(lax.problems), "too-slow");
  EXPECT_FALSE(text::has_errors(lax.problems));
  ASSERT_EQ(lax.log.runs.size(), 2U);
  EXPECT_TRUE(lax.log.readings[0].suspicious);
  EXPECT_FALSE(lax.log.readings[1].suspicious);
  ReadOptions options;
  options.strict = true;
  EXPECT_TRUE(text::has_errors(read_run_log(text, "a.csv", options).problems));
}

TEST(Suspicions, AFlagExplainsASlowRun) {
  EXPECT_EQ(codes_in("# base-distance: 60 ft\ndate,player,course,first,flag\n2026-04-11,1,home-first,34.05,fall\n"),
            "");
}

// Identity: the same night typed with one kind of error each.
class OneErrorANight : public ::testing::Test {
 protected:
  static std::string night(const std::string& third_row) {
    return "# base-distance: 60 ft\ndate,player,course,trial,timer,first,second,third,home,flag\n"
           "2026-04-11,1,circuit,1,AK,4.05,8.02,12.10,16.31,\n"
           "2026-04-11,2,circuit,1,AK,4.45,8.90,13.31,17.90,\n" +
           third_row +
           "2026-04-11,2,circuit,2,AK,4.51,8.97,13.40,18.02,\n"
           "2026-04-11,1,circuit,3,AK,4.11,8.13,12.22,16.42,\n";
  }
};

TEST_F(OneErrorANight, IsCalledByItsName) {
  EXPECT_EQ(codes_in(night("2026-04-11,1,circuit,2,AK,4.09,8.06,12.15,16.36,\n")), "");
  EXPECT_EQ(codes_in(night("2026-04-11,1,circuit,2,AK,4.09,8.06,12.15,1.636,\n")), "decimal-slip");
  EXPECT_EQ(codes_in(night("2026-04-11,1,circuit,2,AK,409,8.06,12.15,16.36,\n")), "decimal-slip");
  EXPECT_EQ(codes_in(night("2026-04-11,1,circuit,2,AK,4.09,3.97,4.09,4.21,\n")), "laps-as-cumulative");
  EXPECT_EQ(codes_in(night("2026-04-11,1,circuit,2,AK,4:09,8.06,12.15,16.36,\n")), "seconds-as-minutes");
  EXPECT_EQ(codes_in(night("2026-04-11,1,circuit,2,AK,4.09,12.15,8.06,16.36,\n")), "splits-out-of-order");
  EXPECT_EQ(codes_in(night("2026-04-11,1,circuit,2,AK,4.09,8.06,12.15,12.36,\n")), "impossible-speed");
  EXPECT_EQ(codes_in(night("2026-04-11,1,circuit,2,AK,4.45,8.90,13.31,17.90,\n")), "repeated-row");
  EXPECT_EQ(codes_in(night("2026-04-11,1,circuit,1,AK,4.09,8.06,12.15,16.36,\n")), "repeated-reading");
  EXPECT_EQ(codes_in(night("2026-04-11,1,circuit,2,AK,4.05,8.02,12.10,16.31,\n")), "duplicate-run");
  EXPECT_EQ(codes_in(night("2026-04-11,1,circuit,1,RB,4.09,8.06,13.15,17.36,\n")), "watches-disagree");
  EXPECT_EQ(codes_in(night("2026-04-11,1,circuit,2,AK,,,,,\n")), "no-times");
}

// Identity: of two watches that differ by 0.30 s on every run, give or take a few hundredths, one that suddenly agrees
// is the odd one; 4 (6 0.12^2 / 14)^(1/2) = 0.31 s is the limit where eight runs are alike.
TEST(Suspicions, TwoWatchesAreHeldAgainstWhatTheyUsuallyDo) {
  const auto night = [](int runs, double last_apart_s) {
    std::string out = "# base-distance: 60 ft\ndate,player,course,trial,timer,first\n";
    for (int k = 0; k < runs; ++k) {
      const std::string run = "2026-04-11," + std::to_string(k + 1) + ",home-first,1,";
      const double time_s = 4.0 + 0.07 * k;
      out += run + "AK," + format_number(time_s) + "\n";
      out += run + "RB," + format_number(time_s + (k + 1 < runs ? 0.30 : last_apart_s)) + "\n";
    }
    return out;
  };
  EXPECT_EQ(codes_in(night(8, 0.60)), "");
  EXPECT_EQ(codes_in(night(8, 0.62)), "watches-disagree");
  EXPECT_EQ(codes_in(night(8, -0.02)), "watches-disagree");
  EXPECT_EQ(codes_in(night(5, -0.02)), "");
  const auto read = read_run_log(night(8, -0.02), "n.csv", {});
  EXPECT_EQ(read.problems.at(0).expected, "0.3 s more, give or take 0.31 s, as these two watches usually have it");
  EXPECT_TRUE(read.log.readings.at(15).suspicious);
  EXPECT_FALSE(read.log.readings.at(14).suspicious);
}

// Identity: a copied file repeats every run it holds; the problem names the file it copies.
TEST(Suspicions, ACopiedFileIsNoticed) {
  const std::string text =
      "# base-distance: 60 ft\ndate,player,course,first,second\n2026-04-11,1,home-second,4.05,8.42\n";
  const std::vector<LogText> files{{text, "a.csv"}, {text, "copy of a.csv"}};
  const auto result = read_run_logs(files);
  ASSERT_EQ(codes_of(result.problems), "duplicate-run");
  EXPECT_EQ(result.problems.front().path, "copy of a.csv");
  EXPECT_NE(result.problems.front().message.find("line 3 of a.csv"), std::string::npos);
}

// Identity: on the team's clock a leg's first time says nothing of how fast the leg was run.
TEST(Suspicions, LaterRelayLegsCountOnTheTeamsClock) {
  const std::string header = "# base-distance: 60 ft\ndate,team,leg,player,course,trial,first,second,third,home\n";
  EXPECT_EQ(
      codes_in(header + "2026-04-11,red,1,1,home-second,1,4.35,8.42,,\n2026-04-11,red,2,2,second-home,1,,,12.66,16.70\n"
                        "2026-04-11,red,3,3,home-second,1,21.02,25.10,,\n"),
      "");
  EXPECT_EQ(codes_in(header +
                     "2026-04-11,red,1,1,home-second,1,4.35,8.42,,\n2026-04-11,red,2,2,second-home,1,,,8.40,12.70\n"),
            "relay-clock");
}

// Identity: case, blanks and leading zeros part words that people take for one; the digits of a number do not.
TEST(Suspicions, OneWordInTwoSpellingsIsToldOnceForEachPair) {
  const auto codes = [](const char* a, const char* b) {
    return codes_in("# course: straight\n# date: 2026-04-28\nplayer,10m\n" + std::string(a) + ",2.31\n" + b +
                    ",2.35\n" + b + ",2.36\n");
  };
  for (const auto& [a, b] : {std::pair("Anna", "anna"), std::pair("7", "07"), std::pair("A K", "AK"),
                             std::pair("p7", "P007"), std::pair("0", "00")}) {
    EXPECT_EQ(codes(a, b), "two-spellings") << a << " " << b;
  }
  for (const auto& [a, b] : {std::pair("7", "70"), std::pair("1 23", "12 3"), std::pair("1.05", "1.5"),
                             std::pair("0", ""), std::pair("Ann", "Anna")}) {
    EXPECT_EQ(codes(a, b).find("two-spellings"), std::string::npos) << a << " " << b;
  }
  const std::string timers =
      "# course: straight\n# date: 2026-04-28\nplayer,trial,timer,10m\n1,1,AK,2.31\n1,2,ak,2.35\n1,3,ak,2.33\n";
  const auto problems = read_run_log(timers, "a.csv").problems;
  ASSERT_EQ(codes_of(problems), "two-spellings");
  EXPECT_EQ(problems.front().message, "one timer in two spellings? 'ak' stands on 2 rows, 'AK' on 1 row");
}

// Identity: two children wear 1, so that a sheet typed by bib makes one of them.
// Identity: each pair is one id typed in two ways; the last two are two children.
TEST(Suspicions, OneChildTypedInTwoWaysIsTold) {
  const auto codes = [](const std::string& a, const std::string& b) {
    return codes_in("date,player,course,10m\n2026-04-11," + a + ",straight,2.41\n2026-04-11," + b + ",straight,2.52\n");
  };
  EXPECT_EQ(codes("12", "12.0"), "two-spellings");
  EXPECT_EQ(codes("12", "\"#12\""), "two-spellings");
  EXPECT_EQ(codes("12", "12\u00A0"), "two-spellings");
  EXPECT_EQ(codes("12", "\u200B12"), "two-spellings");
  EXPECT_EQ(codes("Zo\u00EB", "Zoe\u0308"), "two-spellings");
  EXPECT_EQ(codes("\u00C9MILE", "\u00E9mile"), "two-spellings");
  EXPECT_EQ(codes("\u0141ucja", "\u0142ucja"), "two-spellings");
  EXPECT_EQ(codes("100000", "1E+05"), "rounded-id two-spellings");
  EXPECT_EQ(codes("123456", "1.23E+05"), "rounded-id");
  EXPECT_EQ(codes("12", "12.5"), "");
  EXPECT_EQ(codes("Zoe", "Zo\u00EB"), "");
}

// Identity: where an eye cannot see what differs, the hint says it.
TEST(Suspicions, WhatAnEyeCannotSeeIsSaid) {
  const auto hint = [](const std::string& a, const std::string& b, const Roster* roster) {
    const text::Problems found =
        read_run_log("date,player,course,10m\n2026-04-11," + a + ",straight,2.41\n2026-04-11," + b + ",straight,2.52\n",
                     "a.csv", {.roster = roster})
            .problems;
    return found.empty() ? "" : found.back().hint;
  };
  EXPECT_NE(hint("12", "12\u00A0", nullptr).find("no-break"), std::string::npos);
  EXPECT_NE(hint("Zo\u00EB", "Zoe\u0308", nullptr).find("accents"), std::string::npos);
  Roster roster;
  roster.players.emplace_back().id = "12";
  roster.build_index();
  EXPECT_NE(hint("12", "12\u00A0", &roster).find("'12' may be meant: a no-break"), std::string::npos);
  EXPECT_EQ(hint("12", "12.0", &roster), "'12' may be meant");
}

TEST(Suspicions, ABibOrANameIsToldToBeNoId) {
  Roster roster;
  roster.players.resize(3);
  roster.players[0].id = "P101";
  roster.players[0].bib = "1";
  roster.players[1].id = "P131";
  roster.players[1].bib = "1";
  roster.players[2].id = "P132";
  roster.players[2].bib = "2";
  roster.players[2].name = "Anna";
  roster.build_index();
  ReadOptions options;
  options.roster = &roster;
  const std::string head = "# course: straight\n# date: 2026-04-28\nplayer,trial,timer,10m\n";
  const auto hint_of = [&](const std::string& rows) {
    return read_run_log(head + rows, "a.csv", options).problems.back().hint;
  };
  EXPECT_EQ(hint_of("1,1,AK,2.31\n"), "1 is the bib of P101 and P131: type the id, or they are taken for one");
  EXPECT_EQ(hint_of("2,1,AK,2.31\n"), "2 is the bib of P132: type the id");
  EXPECT_EQ(hint_of("anna,1,AK,2.31\n"), "anna is the name of player P132: type the id");
  EXPECT_EQ(hint_of("1,1,AK,2.31\n1,1,AK,2.44\n"),
            "1 is the bib of P101 and P131: type the id, or they are taken for one");
}

// Identity: two files of one evening without a common mark are two drills, not one run timed twice.
TEST(Suspicions, TwoDrillsThatBothCountFromOneAreToldHowToBePartedAndAreThen) {
  const std::string sprints = "# course: straight\n# date: 2026-04-28\nplayer,trial,timer,10yd\n1,1,AK,2.31\n";
  const std::string game = "# course: straight\n# date: 2026-04-28\nplayer,trial,timer,move\n1,1,AK,0.31\n";
  const auto problems = read_run_logs(std::vector<LogText>{{sprints, "a.csv"}, {game, "b.csv"}}).problems;
  ASSERT_EQ(codes_of(problems), "repeated-reading");
  EXPECT_NE(problems.front().hint.find("# place"), std::string::npos);
  const std::string apart = "# place: reaction game\n" + game;
  const auto both = read_run_logs(std::vector<LogText>{{sprints, "a.csv"}, {apart, "b.csv"}});
  EXPECT_EQ(codes_of(both.problems), "");
  EXPECT_EQ(both.log.runs.size(), 2U);
}

}  // namespace
