// Finishing orders in the standings, and who runs with whom: that each thing seen tells, and what it tells.
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <set>
#include <string>

#include "bagsplit/jobs/draw_heats.hpp"
#include "bagsplit/jobs/standings/standings.hpp"
#include "bagsplit/runs/log/run_log.hpp"
#include "bagsplit/runs/roster/roster.hpp"

namespace {

using namespace bagsplit;
using jobs::Standing;
using jobs::StandingsOptions;
using jobs::StandingsResult;

const std::string header =
    "# course: straight\n# posture: prone\n# finish-at: 15 yd\n# timer: AK\ndate,player,heat,finish,15yd,flag\n";

// "1:12 7=3 5|9;2:7 12" as rows: heat, children as they came in.
std::string rows(const std::string& heats, const std::string& date = "2026-04-11") {
  std::string out;
  std::string heat;
  std::string child;
  std::size_t place = 1;
  std::size_t level = 0;
  bool behind = false;
  const auto end_child = [&] {
    if (!child.empty()) {
      out += date + "," + child + "," + heat + "," + (behind ? "" : std::to_string(place)) + ",,\n";
      ++level;
      child.clear();
    }
  };
  for (const char c : heats + ";") {
    if (c == ':') {
      heat = child;
      child.clear();
      place = 1;
      level = 0;
      behind = false;
    } else if (c == ' ' || c == '|' || c == ';') {
      end_child();
      place += level;
      level = 0;
      behind = behind || c == '|';
    } else if (c == '=') {
      end_child();
    } else {
      child += c;
    }
  }
  return out;
}

StandingsResult order(const std::string& log_text, std::size_t cut = 0, std::size_t next_runs = 0,
                      unsigned threads = 1) {
  const auto log = runs::read_run_log(log_text, "log.csv");
  EXPECT_FALSE(text::has_errors(log.problems)) << (log.problems.empty() ? "" : log.problems.front().message);
  StandingsOptions options;
  options.by = {jobs::ranked_quantity_of("time:15yd@straight").value()};
  options.threads = threads;
  options.next_runs = next_runs;
  if (cut > 0) {
    options.cut = cut;
  }
  auto made =
      jobs::standings(log.log, runs::read_roster("player\n", "roster.csv").roster, timing::DeviceBook{}, options);
  if (const auto* refusal = std::get_if<jobs::StandingsRefusal>(&made)) {
    ADD_FAILURE() << refusal->why;
    return {};
  }
  return std::get<StandingsResult>(std::move(made));
}

const Standing& of(const StandingsResult& result, const std::string& player) {
  const auto found =
      std::find_if(result.players.begin(), result.players.end(), [&](const Standing& s) { return s.player == player; });
  EXPECT_NE(found, result.players.end()) << player;
  return found != result.players.end() ? *found : result.players.front();
}

// Identity: one heat of two. The chance that the first in is the faster is 1/2 + asin(r)/pi, r the correlation of the
// gap in ability with the gap seen; by symmetry the means lie as far on either side of the squad's.
TEST(StandingsHeats, WhoCameInFirstIsLikelierTheFaster) {
  const StandingsResult result = order(header + rows("1:12 7"), 1);
  EXPECT_EQ(result.players[0].player, "12");
  EXPECT_EQ(result.players[0].runs_used, 0U);
  EXPECT_EQ(result.heats->heats, 1U);
  const double p = *of(result, "12").p_in_cut;
  EXPECT_GT(p, 0.7);
  EXPECT_LT(p, 0.95);
  const StandingsResult other = order(header + rows("1:7 12"), 1);
  EXPECT_NEAR(*of(other, "7").p_in_cut, p, 0.03);
}

// Identity: the more rounds say the same, the surer, and all children of a round are placed in the order seen.
TEST(StandingsHeats, RoundsAddUp) {
  const StandingsResult once = order(header + rows("1:a b c d"), 2);
  const StandingsResult thrice = order(header + rows("1:a b c d;2:a b c d;3:a b c d"), 2);
  for (std::size_t k = 0; k < 4; ++k) {
    EXPECT_EQ(once.players[k].player, std::string(1, static_cast<char>('a' + k)));
    EXPECT_EQ(thrice.players[k].player, once.players[k].player);
  }
  EXPECT_GT(*of(thrice, "a").p_in_cut, *of(once, "a").p_in_cut);
  EXPECT_LT(*of(thrice, "d").p_in_cut, *of(once, "d").p_in_cut);
  EXPECT_LT(of(thrice, "a").rank_hi, of(once, "a").rank_hi);
}

// Identity: level with a fast child is faster than level with a slow one. Without the tie both orders say the same
// of 9.
TEST(StandingsHeats, ATieDrawsTogether) {
  const std::string ladder = "1:a b c d e;2:a b c d e;3:a b c d e;";
  const double fast = of(order(header + rows(ladder + "4:9=a;5:9=a;6:9=a")), "9").value.mean;
  const double slow = of(order(header + rows(ladder + "4:9=e;5:9=e;6:9=e")), "9").value.mean;
  EXPECT_LT(fast, slow - 0.1);
}

// Identity: who came in behind all placed is slower than the last of them, in whatever order they stand.
TEST(StandingsHeats, BehindAllPlacedIsSlower) {
  const StandingsResult result = order(header + rows("1:a b|c d;2:b a|d c"), 2);
  EXPECT_GT(of(result, "c").value.mean, of(result, "a").value.mean + 0.05);
  EXPECT_GT(of(result, "d").value.mean, of(result, "b").value.mean + 0.05);
  EXPECT_NEAR(of(result, "c").value.mean, of(result, "d").value.mean, 1e-3);
}

// Identity: a child who fell is out of its heat, and the order of the others stands.
TEST(StandingsHeats, WhoFellIsOutOfTheHeat) {
  const std::string two = rows("1:a b;2:a b");
  const StandingsResult without = order(header + two);
  const StandingsResult fell = order(header + two + "2026-04-11,c,1,,,fall\n2026-04-11,c,2,,,fall\n");
  EXPECT_NEAR(of(fell, "a").value.mean, of(without, "a").value.mean, 1e-9);
  ASSERT_EQ(fell.not_ranked.size(), 1U);
  EXPECT_EQ(fell.not_ranked[0].player, "c");
}

// Identity: the spread is learnt. The same number of heats of the same children: where every heat turns the last one
// round, children are alike and little apart, and what is not known of one is little; where all agree they are far
// apart. With the spread fixed at the prior's the doubt about a child is the same in both: 0.474 s and 0.467 s, in
// place of 0.498 s and 0.442 s.
TEST(StandingsHeats, LearnsHowFarChildrenAreApart) {
  const StandingsResult alike =
      order(header + rows("1:a b c d e;2:e d c b a;3:a b c d e;4:e d c b a;5:c a e b d;6:d b e a c"));
  const StandingsResult apart =
      order(header + rows("1:a b c d e;2:a b c d e;3:a b c d e;4:a b c d e;5:a b c d e;6:a b c d e"));
  EXPECT_NEAR(of(alike, "e").value.mean, of(alike, "a").value.mean, 0.1);
  EXPECT_GT(of(apart, "e").value.mean - of(apart, "a").value.mean, 1.0);
  EXPECT_GT(of(apart, "c").value.sd, of(alike, "c").value.sd + 0.03);
}

// Identity: the winner's time is no plain run: a child is not faster for having been timed where it won, and the
// seconds come from it.
TEST(StandingsHeats, AWinnersTimeGivesSecondsAndIsNoPlainRun) {
  const std::string plain = header + rows("1:a b c;2:a b c");
  std::string timed = plain;
  timed.replace(timed.find("a,1,1,,"), 7, "a,1,1,4.00,");
  const StandingsResult without = order(plain);
  const StandingsResult with = order(timed);
  EXPECT_EQ(of(with, "a").runs_used, 0U);
  EXPECT_EQ(of(with, "a").runs_of_course, 0U);
  EXPECT_FALSE(of(with, "a").best);
  EXPECT_FALSE(without.heats->any_time);
  EXPECT_TRUE(with.heats->any_time);
  EXPECT_LT(of(with, "b").value.sd, 0.9 * of(without, "b").value.sd);  // the others learn from it as well
}

// Identity: an order that the judge saw in batches or rows the other way round is the same order.
TEST(StandingsHeats, TheOrderOfRowsDoesNotShow) {
  const std::string heats = rows("1:a b c|d;2:c a=b;3:d c");
  std::string back;
  for (std::size_t end = heats.size(); end > 0;) {
    const std::size_t begin = end < 2 ? 0 : heats.rfind('\n', end - 2) + 1;
    back += heats.substr(begin, end - begin);
    end = begin;
  }
  const StandingsResult one = order(header + heats, 2);
  const StandingsResult other = order(header + back, 2);
  for (const Standing& player : one.players) {
    EXPECT_NEAR(of(other, player.player).value.mean, player.value.mean, 1e-6);
  }
}

// Identity: further runs go to those whose place is open, in heats that did not run before, each child once a round;
// the chance of a wrong side falls; one and three threads tell the same.
TEST(StandingsHeats, NextHeatsAreOfThoseWhosePlaceIsOpen) {
  const std::string log = header + rows("1:a c e g;2:b d f h;3:a b c d;4:e f g h");
  const StandingsResult result = order(log, 4, 8);
  ASSERT_TRUE(result.worth);
  EXPECT_LT(result.worth->after, 0.95 * result.worth->now);
  EXPECT_LE(result.worth->after, result.worth->after_another_day + 0.1);
  std::size_t given = 0;
  for (const jobs::MoreRuns& more : result.next_runs) {
    given += more.runs;
    EXPECT_GT(*of(result, more.player).p_in_cut, 0.001);
    EXPECT_LT(*of(result, more.player).p_in_cut, 0.999);
    EXPECT_EQ(more.course, "straight");
  }
  EXPECT_LE(given, 8U);
  EXPECT_GE(given, 6U);
  std::size_t in_heats = 0;
  for (const auto& heat : result.next_heats) {
    const std::set<std::string> field(heat.begin(), heat.end());
    EXPECT_EQ(field.size(), heat.size());
    EXPECT_GE(heat.size(), 2U);
    EXPECT_LE(heat.size(), 6U);
    in_heats += heat.size();
    for (const auto& before : result.heats->fields) {
      EXPECT_NE(field, std::set<std::string>(before.begin(), before.end()));
    }
  }
  EXPECT_EQ(in_heats, given);
  const StandingsResult again = order(log, 4, 8, 3);
  EXPECT_EQ(again.next_heats, result.next_heats);
  EXPECT_EQ(again.worth->after, result.worth->after);
  EXPECT_TRUE(order(log, 4, 1).next_heats.empty());  // a heat needs two
}

// Identity: each child once a round, heats as equal as can be, none as before, the same for the same seed.
TEST(DrawHeats, EachOnceARoundAndNoHeatTwice) {
  for (const std::size_t players : {2U, 3U, 7U, 14U, 60U}) {
    for (const std::size_t most : {2U, 4U, 6U, 7U}) {
      const auto rounds = jobs::draw_heats(players, most, 3, 20260411);
      ASSERT_EQ(rounds.size(), 3U);
      std::set<std::set<std::size_t>> heats;
      std::size_t all = 0;
      for (const auto& round : rounds) {
        std::set<std::size_t> seen;
        std::size_t least = players;
        std::size_t largest = 0;
        for (const auto& heat : round) {
          seen.insert(heat.begin(), heat.end());
          heats.insert(std::set<std::size_t>(heat.begin(), heat.end()));
          least = std::min(least, heat.size());
          largest = std::max(largest, heat.size());
          ++all;
        }
        EXPECT_EQ(seen.size(), players);
        EXPECT_LE(largest, least + 1);
        EXPECT_GE(least, 2U);
        EXPECT_LE(largest, std::max<std::size_t>(most, 3));
      }
      EXPECT_TRUE(players < 14 || heats.size() == all) << players << " in " << most;
      EXPECT_EQ(jobs::draw_heats(players, most, 3, 20260411), rounds);
      EXPECT_TRUE(players < 7 || jobs::draw_heats(players, most, 3, 20260418) != rounds);
    }
  }
  EXPECT_THROW(jobs::draw_heats(1, 4, 1, 1), std::invalid_argument);
  EXPECT_THROW(jobs::draw_heats(4, 1, 1, 1), std::invalid_argument);
}

}  // namespace
