#include "bagsplit/record/record_session.hpp"

#include <gtest/gtest.h>

#include <string>
#include <vector>

#include "bagsplit/record/merge_logs.hpp"
#include "bagsplit/runs/entries.hpp"
#include "bagsplit/runs/log/write_run_log.hpp"

namespace {

using namespace bagsplit;
using record::RecordReply;
using record::RecordSession;
using Kind = RecordReply::Kind;

record::RecordSetup circuit() {
  record::RecordSetup setup;
  setup.course = "circuit";
  setup.base_distance = "60 ft";
  setup.date = "2026-04-11";
  setup.timer = "AK";
  setup.marks = {"first", "second", "third", "home"};
  return setup;
}

// The log as the disk would have it.
struct Typed {
  RecordSession session;
  std::string log;

  explicit Typed(record::RecordSetup setup) : session(std::move(setup)), log(session.header()) {}
  Kind type(const std::string& line) {
    const RecordReply reply = session.take(line);
    if (reply.kind == Kind::keep) {
      log += reply.row;
      session.kept();
    }
    return reply.kind;
  }
  runs::RunLogResult read() const { return runs::read_run_log(log, "log.csv"); }
};

// Identity: a session begun anew from its file is the session that wrote it.
TEST(RecordSession, GoesOnFromItsFile) {
  Typed typed(circuit());
  for (const char* line : {"12 4.05 8.02 12.10 16.31", "7 3.95 7.90 12.00 16.00 ; windy, \"gusts\"",
                           "watch RB 4.01 7.95 12.04 16.05", "undo", "9 fall", "correct 9 4.4 8.8 13.2 17.6"}) {
    EXPECT_EQ(typed.type(line), Kind::keep) << line;
  }
  RecordSession again(record::RecordSetup{});
  text::Problems problems;
  ASSERT_TRUE(again.resume(typed.log, "log.csv", problems));
  EXPECT_EQ(again.header(), typed.session.header());
  ASSERT_EQ(again.entries().size(), typed.session.entries().size());
  for (std::size_t k = 0; k < again.entries().size(); ++k) {
    EXPECT_EQ(record::entry_line(again.entries()[k]), record::entry_line(typed.session.entries()[k]));
  }
  EXPECT_EQ(again.standing(), 3U);
}

// Identity: the readings that stand are the ones read.
TEST(RecordSession, TheLogReadsAsWhatStands) {
  Typed typed(circuit());
  typed.type("12 4.05 8.02 12.10 16.31");
  typed.type("12 4.15 8.12 12.20 16.41");
  typed.type("correct #1 12 4.06 8.02 12.10 16.31");
  typed.type("undo");  // the second run
  const auto read = typed.read();
  EXPECT_FALSE(text::has_errors(read.problems));
  ASSERT_EQ(read.log.runs.size(), 2U);
  EXPECT_EQ(read.log.splits_of(read.log.readings_of(read.log.runs[0])[0])[0].time_s,
            4.05);  // the correction was the last entry
  EXPECT_EQ(read.log.runs[1].trial, 2);
}

TEST(RecordSession, UndoingACorrectionBringsBackWhatItReplaced) {
  using What = runs::EntryMark::What;
  const std::vector<runs::EntryMark> marks{{1, What::fresh, 0}, {2, What::replaces, 1}, {3, What::undoes, 2}};
  EXPECT_EQ(runs::standing_entries(marks), (std::vector<bool>{true, false, false}));
  const std::vector<runs::EntryMark> gone{{1, What::fresh, 0}, {2, What::undoes, 1}};
  EXPECT_EQ(runs::standing_entries(gone), (std::vector<bool>{false, false}));
  EXPECT_EQ(runs::entry_text(marks[1]), "2 replaces 1");
  EXPECT_FALSE(runs::parse_entry("2 replaces 2"));
  EXPECT_FALSE(runs::parse_entry("0"));
  EXPECT_FALSE(runs::parse_entry("3 mends 2"));
}

TEST(RecordSession, AsksBeforeItKeepsWhatThePlayerHasNeverRun) {
  Typed typed(circuit());
  typed.type("12 4.05 8.02 12.10 16.31");
  EXPECT_EQ(typed.type("12 4.00 7.95 12.05 16.20"), Kind::keep);  // within what a hand watch and a good day make
  EXPECT_EQ(typed.type("12 2.75 6.70 10.75 14.95"), Kind::asked);
  EXPECT_EQ(typed.type("7 4.1 8.1 12.1 16.1"), Kind::asked) << "a question must be answered first";
  EXPECT_EQ(typed.type("n"), Kind::told);
  EXPECT_EQ(typed.type("12 2.75 6.70 10.75 14.95"), Kind::asked);
  EXPECT_EQ(typed.type("y"), Kind::keep);
  EXPECT_EQ(typed.type("12 4.05 8.02 13.60 16.31"), Kind::asked) << "one mark a digit off";
  EXPECT_EQ(typed.type("n"), Kind::told);
  EXPECT_EQ(typed.session.standing(), 3U);
}

TEST(RecordSession, AsksAboutANewPlayerFarFromTheSquad) {
  Typed typed(circuit());
  for (int k = 1; k <= 4; ++k) {
    EXPECT_EQ(typed.type(std::to_string(k) + " 4." + std::to_string(k) + "5 8." + std::to_string(k) + "2 12." +
                         std::to_string(k) + "6 16." + std::to_string(k)),
              Kind::keep);
  }
  EXPECT_EQ(typed.type("5 7.10 14.10 21.20 28.00"), Kind::asked);
  typed.type("n");
  EXPECT_EQ(typed.type("5 4.81 9.33 13.52 18.44"), Kind::keep);
}

TEST(RecordSession, RefusesWhatTheReaderWouldRefuse) {
  Typed typed(circuit());
  for (const char* line :
       {"12 8.02 4.05 12.10 16.31", "12 1.05 8.02 12.10 16.31", "12 4.05 8.02 12.10", "12 4.05 8.02 12.1o 16.31", "12",
        "12 stumbled", "watch RB 4 8 12 16", "undo", "flag fall", "correct #4 12 4.05 8.02 12.10 16.31",
        "order nowhere", "list x", "12 4.05 8.02 12.10 16.31 17.00", "\x01", "12 - - - -"}) {
    EXPECT_EQ(typed.type(line), Kind::refused) << line;
  }
  EXPECT_EQ(typed.session.entries().size(), 0U);
  typed.type("12 4.05 8.02 12.10 16.31");
  EXPECT_EQ(typed.type("watch AK 4.05 8.02 12.10 16.31"), Kind::refused) << "the same watch twice on one run";
}

TEST(RecordSession, WhatIsLostOnTheDiskDidNotHappen) {
  RecordSession session(circuit());
  const RecordReply first = session.take("12 4.05 8.02 12.10 16.31");
  ASSERT_EQ(first.kind, Kind::keep);
  session.lost();
  EXPECT_EQ(session.entries().size(), 0U);
  EXPECT_EQ(session.take("12 4.05 8.02 12.10 16.31").row, first.row);
}

TEST(RecordSession, TheRunningOrderFollowsTheLog) {
  record::RecordSetup setup = circuit();
  setup.order = {"3", "1", "2"};
  Typed typed(setup);
  EXPECT_EQ(typed.session.next_player(), "3");
  typed.type(". 4.05 8.02 12.10 16.31");
  EXPECT_EQ(typed.session.next_player(), "1");
  typed.type("skip");
  EXPECT_EQ(typed.session.next_player(), "2");
  typed.type("2 absent");
  EXPECT_EQ(typed.session.next_player(), "3");
  typed.type("1 4.25 8.22 12.40 16.71");
  typed.type("undo");
  EXPECT_EQ(typed.session.next_player(), "1");
}

// A bib read off the wrong shirt on a run with two watches. Identity: what is read is what would have been typed right;
// undone, it is as before.
TEST(RecordSession, GivesAWholeRunToAnotherPlayer) {
  Typed typed(circuit());
  typed.type("12 4.05 8.02 12.10 16.31 fall ; slipped");
  typed.type("watch RB 4.11 8.05 12.22 16.36");
  typed.type("7 3.95 7.90 12.00 16.00");
  const std::size_t typed_before = typed.log.size();
  EXPECT_EQ(typed.type("correct #1 7 4.05 8.02 12.10 16.31"), Kind::refused) << "one watch of two";
  EXPECT_EQ(typed.type("player #2 12"), Kind::refused) << "it is player 12's";
  EXPECT_EQ(typed.type("player #2"), Kind::refused);
  ASSERT_EQ(typed.type("player #2 7"), Kind::keep);
  const auto read = typed.read();
  EXPECT_FALSE(text::has_errors(read.problems));
  ASSERT_EQ(read.log.runs.size(), 2U);
  const auto& moved = read.log.runs[0].trial == 2 ? read.log.runs[0] : read.log.runs[1];
  EXPECT_EQ(read.log.name(moved.player), "7");
  EXPECT_EQ(moved.reading_count, 2U);
  EXPECT_EQ(moved.flag, runs::Flag::fall);
  EXPECT_EQ(typed.type("undo"), Kind::keep);
  EXPECT_EQ(typed.session.standing(), 3U);
  Typed before(circuit());
  before.log = typed.log.substr(0, typed_before);
  EXPECT_EQ(runs::write_run_log(typed.read().log), runs::write_run_log(before.read().log));
}

TEST(RecordSession, SwappedBibsAreSetRightByTwoMoves) {
  Typed typed(circuit());
  typed.type("12 4.05 8.02 12.10 16.31");
  typed.type("7 3.95 7.90 12.00 16.00");
  EXPECT_EQ(typed.type("player #1 7"), Kind::keep);
  EXPECT_EQ(typed.type("player #2 12"), Kind::keep);
  const auto& entries = typed.session.entries();
  EXPECT_EQ(record::entry_line(entries[2]), "3: 7 trial 2 AK 4.05 8.02 12.10 16.31, in place of 1");
  EXPECT_EQ(record::entry_line(entries[3]), "4: 12 trial 1 AK 3.95 7.90 12.00 16.00, in place of 2");
}

TEST(RecordSession, ACorrectionKeepsFlagAndNoteUnlessToldOtherwise) {
  Typed typed(circuit());
  const auto last = [&] { return record::entry_line(typed.session.entries().back()); };
  typed.type("12 4.05 8.02 12.10 16.31 obstructed ; dog");
  typed.type("correct 12 4.05 8.02 12.10 16.13");
  EXPECT_EQ(last(), "2: 12 trial 1 AK 4.05 8.02 12.10 16.13 obstructed (dog), in place of 1");
  typed.type("correct 7 4.05 8.02 12.10 16.13");
  EXPECT_EQ(last(), "3: 7 trial 1 AK 4.05 8.02 12.10 16.13 obstructed (dog), in place of 2");
  typed.type("correct 7 4.05 8.02 12.10 16.13 fall");
  EXPECT_EQ(last(), "4: 7 trial 1 AK 4.05 8.02 12.10 16.13 fall (dog), in place of 3");
  typed.type("correct 7 4.05 8.02 12.10 16.13 none ;");
  EXPECT_EQ(last(), "5: 7 trial 1 AK 4.05 8.02 12.10 16.13, in place of 4");
}

TEST(RecordSession, UndoesAndTimesAnyRun) {
  Typed typed(circuit());
  typed.type("12 4.05 8.02 12.10 16.31");
  typed.type("7 3.95 7.90 12.00 16.00");
  EXPECT_EQ(typed.type("watch #1 RB 4.11 8.05 12.22 16.36 ; sun"), Kind::keep);
  EXPECT_EQ(record::entry_line(typed.session.entries().back()), "3: 12 trial 1 RB 4.11 8.05 12.22 16.36 (sun)");
  EXPECT_EQ(typed.type("undo 2"), Kind::refused) << "not the last one instead";
  EXPECT_EQ(typed.type("undo #2"), Kind::keep);
  EXPECT_EQ(typed.session.standing(), 2U);
  EXPECT_EQ(typed.type("next 4.05 8.02 12.10 16.31"), Kind::refused);
}

// Begun with a roster and gone on without it, bib 7 would become a second child beside player p7.
TEST(RecordSession, WithoutItsRosterNewPlayersAreAskedAbout) {
  record::RecordSetup setup = circuit();
  runs::Roster roster;
  roster.players.resize(1);
  roster.players[0].id = "p12";
  roster.players[0].bib = "12";
  roster.build_index();
  setup.roster_name = "squad.csv";
  setup.roster = &roster;
  Typed begun(setup);
  EXPECT_EQ(begun.type("12 4.05 8.02 12.10 16.31"), Kind::keep);
  RecordSession again(circuit());
  text::Problems problems;
  ASSERT_TRUE(again.resume(begun.log, "log.csv", problems));
  const RecordReply known = again.take("p12 4.06 8.05 12.12 16.35");
  EXPECT_EQ(known.kind, Kind::keep) << known.text;
  again.kept();
  const RecordReply asked = again.take("7 3.95 7.90 12.00 16.00");
  EXPECT_EQ(asked.kind, Kind::asked);
  EXPECT_NE(asked.text.find("begun with the roster squad.csv"), std::string::npos);
}

TEST(RecordSession, SlipsOfTheHandMakeNoNewPlayer) {
  Typed typed(circuit());
  for (const char* line : {"7: 3.95 7.90 12.00 16.00", "7, 3.95 7.90 12.00 16.00", "#7 3.95 7.90 12.00 16.00",
                           "correct#1 3.95 7.90 12.00 16.00", "7. 3.95 7.90 12.00 16.00"}) {
    EXPECT_EQ(typed.type(line), Kind::refused) << line;
  }
  EXPECT_EQ(typed.type("\xEF\xBB\xBF"
                       "7 3.95 7.90 12.00 16.00\r"),
            Kind::keep)
      << "as some programs begin a file";
  EXPECT_EQ(typed.session.entries()[0].player, "7");
  typed.type("flag fall");
  typed.type("flag obstructed");
  EXPECT_EQ(typed.session.take("flag #1 none").text, "not kept: entry 1 is corrected already: it is #3 now\n");
}

// Each line has one reply, and it begins with "kept" only where there is something to be kept.
TEST(RecordSession, EveryLineIsAnsweredAsKeptOrNot) {
  RecordSession session(circuit());
  for (const char* line : {"", "12", "12 4.05", "12 4.05 8.02 12.10 16.3l", "undo", "flag fall", "quit now", "player 7",
                           "\xFF", "12 4.05 8.02 12.10 16.31 16.31"}) {
    EXPECT_TRUE(session.take(line).text.starts_with("not kept: ")) << line;
  }
  session.take("12 4.05 8.02 12.10 16.31");
  EXPECT_EQ(session.kept(), "kept 1: 12 trial 1 AK 4.05 8.02 12.10 16.31\n");
  session.take("undo");
  EXPECT_EQ(session.kept(), "kept 2: undoes 1: 12 trial 1 AK 4.05 8.02 12.10 16.31\n");
  session.take("12 4.05 8.02 12.10 16.31");
  session.kept();
  EXPECT_TRUE(session.take("12 2.75 6.72 10.80 15.01").text.starts_with("not kept yet: "));
  EXPECT_TRUE(session.take("7 4.05 8.02 12.10 16.31").text.starts_with("not kept: "));
  EXPECT_TRUE(session.take("n").text.starts_with("not kept: "));
}

// Identity: merging with itself, or one log, changes nothing; the order of the files does not matter to what is in
// them.
TEST(MergeLogs, KeepsEachReadingOnce) {
  Typed a(circuit());
  a.type("12 4.05 8.02 12.10 16.31");
  a.type("7 3.95 7.90 12.00 16.00");
  record::RecordSetup other = circuit();
  other.timer = "RB";
  Typed b(other);
  b.type("12 4.11 8.05 12.22 16.36");
  const std::vector<runs::LogText> once{{a.log, "a.csv", false}};
  const std::vector<runs::LogText> twice{{a.log, "a.csv", false}, {a.log, "copy.csv", false}, {b.log, "b.csv", false}};
  const auto one = record::merge_logs(once, {});
  const auto all = record::merge_logs(twice, {});
  EXPECT_EQ(one.log.readings.size(), 2U);
  EXPECT_EQ(all.log.readings.size(), 3U);
  EXPECT_EQ(all.log.runs.size(), 2U);
  EXPECT_EQ(all.same, 2U);
  EXPECT_EQ(all.conflicts, 0U);
  ASSERT_EQ(all.problems.size(), 1U);  // RB saw one of the two
  EXPECT_EQ(all.problems[0].message, "RB has no entry for 1 run: a.csv:8");
}

// Team "2x" in trial 1 and team "x" in trial 12 are two relays, though their words run together alike.
TEST(MergeLogs, TellsRunsApartWhoseWordsRunTogetherAlike) {
  const std::string header =
      "# base-distance: 60 ft\n# device: stopwatch\n# start: signal\ndate,team,leg,player,course,trial,timer,second\n";
  const std::string a = header + "2026-06-30,2x,1,7,home-second,1,AK,7.07\n";
  const std::string b = header + "2026-06-30,x,1,7,home-second,12,AK,7.31\n";
  const std::vector<runs::LogText> files{{a, "a.csv", false}, {b, "b.csv", false}};
  const auto merged = record::merge_logs(files, {});
  EXPECT_EQ(merged.conflicts, 0U);
  EXPECT_EQ(merged.log.runs.size(), 2U);
}

TEST(MergeLogs, ShowsAConflictWithBothPlaces) {
  Typed a(circuit());
  a.type("12 4.05 8.02 12.10 16.31");
  Typed b(circuit());
  b.type("12 4.05 8.02 12.10 16.13");
  const std::vector<runs::LogText> files{{a.log, "a.csv", false}, {b.log, "b.csv", false}};
  const auto merged = record::merge_logs(files, {});
  EXPECT_EQ(merged.conflicts, 1U);
  ASSERT_EQ(merged.problems.size(), 1U);
  EXPECT_EQ(merged.problems[0].code, "conflicting-entries");
  EXPECT_EQ(merged.problems[0].path, "b.csv");
  EXPECT_NE(merged.problems[0].message.find("a.csv:7"), std::string::npos);
}

record::RecordSetup heats() {
  record::RecordSetup setup;
  setup.course = "straight";
  setup.posture = "prone";
  setup.date = "2026-04-11";
  setup.timer = "AK";
  setup.marks = {"finish", "15yd"};
  setup.heats = true;
  return setup;
}

std::vector<unsigned> places(const runs::RunLog& log, const runs::Heat& heat) {
  std::vector<unsigned> out;
  for (const runs::Finisher& finisher : log.finishers_of(heat)) {
    out.push_back(finisher.place);
  }
  return out;
}

// Identity: one line is one heat as the reader of logs has it: 1, 2, 2, 4, then who came in behind, and who fell.
TEST(RecordSession, ALineIsAHeat) {
  Typed typed(heats());
  ASSERT_EQ(typed.type("12 4,31 7=3 5 14 fell | 9 ; wet"), Kind::keep);
  const auto read = typed.read();
  ASSERT_FALSE(text::has_errors(read.problems));
  ASSERT_EQ(read.log.heats.size(), 1U);
  EXPECT_EQ(places(read.log, read.log.heats[0]), (std::vector<unsigned>{1, 2, 2, 4, 0, 0}));
  EXPECT_EQ(read.log.name(read.log.heats[0].finish_mark), "15yd");
  EXPECT_EQ(read.log.runs[4].flag, runs::Flag::fall);
  ASSERT_EQ(read.log.splits_of(read.log.readings_of(read.log.runs[0])[0]).size(), 1U);
  EXPECT_EQ(read.log.splits_of(read.log.readings_of(read.log.runs[0])[0])[0].time_s, 4.31);
}

// Identity: a heat corrected is as if typed so the first time, whoever left it and whoever came; taken out, it is gone
// with all that stood there before, and its number is not used again.
TEST(RecordSession, AHeatCorrectedIsAsIfTypedSo) {
  Typed typed(heats());
  typed.type("12 7 3 5");
  EXPECT_EQ(typed.type("correct 12 3 5 9"), Kind::asked);  // nobody has run as 9
  EXPECT_EQ(typed.type("y"), Kind::keep);
  typed.type("correct 5 12 3");  // 9 and its row are undone, and 7 does not come back
  auto read = typed.read();
  ASSERT_EQ(read.log.heats.size(), 1U);
  ASSERT_EQ(read.log.runs.size(), 3U);
  EXPECT_EQ(record::heat_line(typed.session.entries()).substr(0, 7), "heat 1:");
  EXPECT_EQ(typed.session.last_line(), "heat 1: 5  12  3");
  typed.type("player 12 3");  // two numbers exchanged
  EXPECT_EQ(typed.session.last_line(), "heat 1: 5  3  12");
  typed.type("undo");
  EXPECT_EQ(typed.session.standing(), 0U);
  read = typed.read();
  EXPECT_FALSE(text::has_errors(read.problems));
  EXPECT_EQ(read.log.runs.size(), 0U);
  typed.type("12 7");
  EXPECT_EQ(typed.session.last_line(), "heat 2: 12  7");
  RecordSession again(record::RecordSetup{});
  text::Problems problems;
  ASSERT_TRUE(again.resume(typed.log, "log.csv", problems));
  EXPECT_EQ(again.header(), typed.session.header());
  EXPECT_EQ(again.last_line(), "heat 2: 12  7");
}

TEST(RecordSession, RefusesWhatIsNoHeat) {
  Typed typed(heats());
  typed.type("12 7 3 5");
  for (const char* line : {"12", "12 7 12", "= 12 7", "12 7 =", "12 = | 7", "12 7 | 3 | 5", "4.31 12 7",
                           "12 4.31 4.32 7", "fall 12 7", "12 4:o5 7", "12 fall 7 fall", "watch RB 4.31",
                           "this run belongs to 7", "flag 9 fall", "player 7", "correct #2 12 7", "12 4.9 7 4.1"}) {
    EXPECT_EQ(typed.type(line), Kind::refused) << line;
  }
  EXPECT_EQ(typed.type("12 7 21"), Kind::asked);  // nobody has run as 21
  EXPECT_EQ(typed.type("n"), Kind::told);
  EXPECT_EQ(typed.session.standing(), 1U);
}

}  // namespace
