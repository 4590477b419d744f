#include "bagsplit/jobs/trend/season_trend.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <cstdio>
#include <string>

#include "bagsplit/inference/season/sprint.hpp"
#include "bagsplit/runs/log/run_log.hpp"
#include "bagsplit/timing/reading_error.hpp"
#include "jobs/season_log.hpp"

namespace bagsplit::jobs {
namespace {

using season::Verdict;
using test::DrawnSeason;
using test::World;

const timing::DeviceBook& devices() {
  static const timing::DeviceBook book;
  return book;
}

SeasonTrend trend_of(const test::WrittenSeason& written, const TrendOptions& options = {}) {
  return season_trend(written.log, written.roster, devices(), options);
}

const SeasonPlayer& player(const SeasonTrend& result, const std::string& id) {
  return *std::find_if(result.players.begin(), result.players.end(), [&](const auto& one) { return one.player == id; });
}

bool is_faster(Verdict verdict) {
  return verdict == Verdict::surely_faster || verdict == Verdict::probably_faster || verdict == Verdict::leaning_faster;
}

bool is_slower(Verdict verdict) {
  return verdict == Verdict::surely_slower || verdict == Verdict::probably_slower || verdict == Verdict::leaning_slower;
}

bool is_leaning(Verdict verdict) {
  return verdict == Verdict::leaning_faster || verdict == Verdict::leaning_slower;
}

// What was told of so many seasons of a world.
struct Told {
  int children = 0, changed = 0, covered = 0, changed_covered = 0;
  int right = 0, wrong = 0;                  // surely or probably
  int leaning_right = 0, leaning_wrong = 0;  // a hint
  int surely_wrong = 0;
};

Told told(const World& world, int seasons, std::uint64_t seed) {
  Told out;
  for (int s = 0; s < seasons; ++s) {
    const DrawnSeason drawn = test::draw_season(world, seed + static_cast<std::uint64_t>(s));
    const SeasonTrend result = trend_of(test::written(drawn));
    for (std::size_t c = 0; c < drawn.changed.size(); ++c) {
      const SeasonPlayer& one = player(result, std::to_string(c + 1));
      const Verdict verdict = one.change->verdict;
      const bool right = (is_faster(verdict) && drawn.change[c] < 0.0) || (is_slower(verdict) && drawn.change[c] > 0.0);
      const bool named = is_faster(verdict) || is_slower(verdict);
      (is_leaning(verdict) ? (right ? out.leaning_right : out.leaning_wrong) : (right ? out.right : out.wrong)) +=
          named ? 1 : 0;
      out.surely_wrong += (verdict == Verdict::surely_faster || verdict == Verdict::surely_slower) && !right ? 1 : 0;
      const bool inside =
          one.change->interval_s.lo <= drawn.total_change_s[c] && drawn.total_change_s[c] <= one.change->interval_s.hi;
      ++out.children;
      out.covered += inside ? 1 : 0;
      out.changed += drawn.changed[c] ? 1 : 0;
      out.changed_covered += drawn.changed[c] && inside ? 1 : 0;
    }
  }
  std::printf("%-40s children %d changed %d: right %d wrong %d, leaning %d %d, covered %d, of the changed %d\n",
              world.name.c_str(), out.children, out.changed, out.right, out.wrong, out.leaning_right, out.leaning_wrong,
              out.covered, out.changed_covered);
  return out;
}

// Identity: with nobody changed every word of change is false. Bounds are those of the season model's acceptance, wider
// for 600 children a world; the worlds share their draws, so that one unlucky child counts in each.
TEST(SeasonTrend, SaysOfNobodyThatItChangedWhenNobodyDid) {
  World still{.name = "nobody changes", .share_changed = 0.0};
  World wind = still;
  wind.name = "wind turned";
  wind.wind = World::Wind::turns;
  World timer = still;
  timer.name = "another timer";
  timer.new_timer = true;
  World gates = still;
  gates.name = "gates in place of watches";
  gates.new_device = true;
  World ground = still;
  ground.name = "another ground";
  ground.new_ground = -0.02;
  ground.evening_sd = 0.01;
  for (const World& world : {still, wind, timer, gates, ground}) {
    const Told all = told(world, 20, 7100);
    EXPECT_LE(all.surely_wrong, 2) << world.name;
    EXPECT_LE(all.wrong, all.children * 2 / 100) << world.name;
    EXPECT_LE(all.leaning_wrong, all.children * 4 / 100) << world.name;
    EXPECT_GE(all.covered, all.children * 88 / 100) << world.name;
  }
}

// Identity: drawn with known changes; asked for is the acceptance of the season model, wider for few seasons.
TEST(SeasonTrend, FindsAThirdThatChanged) {
  const World third{.name = "a third by 3-5 %", .share_changed = 0.33};
  const Told one = told(third, 10, 7200);
  EXPECT_GE(one.right, one.changed * 12 / 100);
  EXPECT_LE(one.wrong, std::max(3, one.right / 4));
  EXPECT_GE(one.covered, one.children * 85 / 100);
  EXPECT_GE(one.changed_covered, one.changed * 80 / 100);
  World courses = third;
  courses.name = "a third, three courses";
  courses.three_courses = true;
  const Told three = told(courses, 10, 7200);
  EXPECT_GE(three.right, three.changed * 35 / 100);
  EXPECT_LE(three.wrong, std::max(3, three.right / 5));
}

// Identity: the wind turns from -2 to +2 m/s for all; what it does over 60 ft is 0.07-0.08 s (physics_test).
TEST(SeasonTrend, SaysWhatTheWindCouldExplain) {
  World wind{.share_changed = 0.0, .wind = World::Wind::turns};
  const SeasonTrend result = trend_of(test::written(test::draw_season(wind, 7300)));
  const auto found = std::find_if(result.conditions.begin(), result.conditions.end(),
                                  [](const SeasonCondition& one) { return one.kind == "wind"; });
  ASSERT_NE(found, result.conditions.end());
  EXPECT_LT(found->explains_s, -0.03);
  EXPECT_GT(found->explains_s, -0.15);
}

// Identity: the slip is on a line that is known.
TEST(SeasonTrend, NamesTheLineOfASlip) {
  int found = 0;
  for (std::uint64_t seed = 0; seed < 5; ++seed) {
    const DrawnSeason drawn = test::draw_season({.one_slip_s = 1.0}, 7400 + seed);
    const SeasonTrend result = trend_of(test::written(drawn));
    const auto slipped = static_cast<std::size_t>(drawn.slipped.front());
    const auto& reading = drawn.season.readings[slipped];
    for (const SeasonSuspect& one : result.suspects) {
      found += one.reading.file == "season.csv" && one.reading.line == slipped + 2 &&
                       one.reading.player == std::to_string(reading.child + 1) && one.reading.kind != "bib"
                   ? 1
                   : 0;
    }
    EXPECT_LE(result.suspects.size(), 2U);
    const Verdict verdict = player(result, std::to_string(reading.child + 1)).change->verdict;
    EXPECT_NE(verdict, Verdict::surely_slower);
    EXPECT_NE(verdict, Verdict::surely_faster);
  }
  EXPECT_EQ(found, 5);
}

// Identity: the two children and the evening are known.
TEST(SeasonTrend, NamesTheEveningOfSwappedBibs) {
  int found = 0;
  for (std::uint64_t seed = 0; seed < 5; ++seed) {
    const DrawnSeason drawn = test::draw_season({.swapped_bibs = true}, 7500 + seed);
    const SeasonTrend result = trend_of(test::written(drawn));
    for (const auto& [child, date] : drawn.swapped) {
      for (const SeasonSuspect& one : result.suspects) {
        found += one.reading.kind == "bib" && one.reading.player == std::to_string(child + 1) ? 1 : 0;
      }
    }
  }
  EXPECT_GE(found, 8);
}

// Identity: the order is by word, then by how sure; seconds of another course are larger by as much as it is longer.
TEST(SeasonTrend, SurestFirstInSecondsOfTheCourseAskedFor) {
  World world{.three_courses = true, .share_changed = 0.4};
  const auto written = test::written(test::draw_season(world, 7600));
  const SeasonTrend usual = trend_of(written);
  EXPECT_EQ(usual.course, "home-first");
  EXPECT_EQ(usual.mark, "first");
  EXPECT_EQ(usual.courses, 3U);
  double before = 1.0;
  for (const SeasonPlayer& one : usual.players) {
    if (is_faster(one.change->verdict) || is_slower(one.change->verdict)) {
      const double sure = std::max(one.change->p_faster, one.change->p_slower);
      EXPECT_LE(sure, before);
      before = sure;
    }
  }
  EXPECT_LT(before, 1.0);
  TrendOptions asked;
  asked.course = "Circuit";
  const SeasonTrend circuit = trend_of(written, asked);
  EXPECT_EQ(circuit.course, "circuit");
  EXPECT_EQ(circuit.mark, "home");
  const std::string first = usual.players.front().player;
  const double ratio = player(circuit, first).change->change_s / player(usual, first).change->change_s;
  EXPECT_GT(ratio, 2.5);
  EXPECT_LT(ratio, 6.0);
  EXPECT_NEAR(player(circuit, first).change->p_faster, usual.players.front().change->p_faster, 0.05);
}

// Identity: windows hold what they are asked for; too little is said, never guessed.
TEST(SeasonTrend, WindowsAndTooLittle) {
  const auto written = test::written(test::draw_season({}, 7700));
  TrendOptions asked;
  const auto day = [](unsigned month, unsigned day_of) {
    return runs::Date(std::chrono::year{2026} / std::chrono::month{month} / std::chrono::day{day_of});
  };
  asked.first = DateSpan{day(4, 1), day(4, 1)};
  asked.last = DateSpan{day(6, 24), day(6, 24)};
  const SeasonTrend ends = trend_of(written, asked);
  EXPECT_EQ(ends.early->dates, 1U);
  EXPECT_EQ(ends.late->dates, 1U);
  EXPECT_TRUE(ends.squad.has_value());
  asked.last = DateSpan{day(7, 1), day(7, 2)};
  const SeasonTrend none = trend_of(written, asked);
  EXPECT_FALSE(none.squad.has_value());
  ASSERT_FALSE(none.notes.empty());
  EXPECT_NE(none.notes.back().find("No run in the last window"), std::string::npos);
  auto one_date = written;
  std::erase_if(one_date.log.runs, [&](const runs::Run& run) { return run.date != day(4, 1); });
  const SeasonTrend one = trend_of(one_date);
  EXPECT_FALSE(one.players.front().change.has_value());
  EXPECT_EQ(one.players.front().verdict, "not seen early and late");
  EXPECT_NE(one.notes.back().find("one date"), std::string::npos);
  EXPECT_TRUE(trend_of({}).players.empty());
  asked = {};
  asked.level = 1.0;
  EXPECT_THROW(trend_of(written, asked), std::domain_error);
}

// Identity: flagged runs, relay legs and runs without a mark stay out and are counted; another start or posture is a
// level of its own, so that it does not shift the others.
TEST(SeasonTrend, AnotherStartIsALevelOfItsOwnAndFlagsStayOut) {
  auto written = test::written(test::draw_season({.share_changed = 0.0}, 7800));
  const SeasonTrend before = trend_of(written);
  written.log.runs[0].flag = runs::Flag::fall;
  written.log.runs[1].leg = 1;
  for (std::size_t i = 2; i < written.log.runs.size(); i += 9) {
    auto& run = written.log.runs[i];
    run.posture = runs::Posture::prone;
    written.log.splits[written.log.readings[run.first_reading].first_split].time_s += 0.8;
  }
  const SeasonTrend after = trend_of(written);
  EXPECT_EQ(after.runs_left_out, 2U);
  EXPECT_EQ(after.left_out.size(), 2U);
  EXPECT_EQ(after.runs_used, before.runs_used - 2);
  EXPECT_LE(after.suspects.size(), 2U);
  for (const SeasonPlayer& one : after.players) {
    EXPECT_NEAR(one.change->change_s, player(before, one.player).change->change_s, 0.1) << one.player;
  }
}

// Identity: seconds a week are the seconds over the weeks between the middles of the windows; words do not change.
TEST(SeasonTrend, SecondsAWeek) {
  const auto written = test::written(test::draw_season({.share_changed = 0.4}, 7900));
  const SeasonTrend whole = trend_of(written);
  TrendOptions asked;
  asked.a_week = true;
  const SeasonTrend week = trend_of(written, asked);
  const double weeks = *whole.weeks;
  EXPECT_NEAR(*week.smallest_detectable_s * weeks, *whole.smallest_detectable_s, 1e-12);
  for (const SeasonPlayer& one : whole.players) {
    const SeasonPlayer& other = player(week, one.player);
    EXPECT_NEAR(other.change->change_s * weeks, one.change->change_s, 1e-12);
    EXPECT_NEAR(other.change->interval_s.lo * weeks, one.change->interval_s.lo, 1e-12);
    EXPECT_EQ(other.verdict, one.verdict);
  }
  asked.worthwhile_s = *whole.worthwhile_s / weeks;
  EXPECT_NEAR(player(trend_of(written, asked), "1").change->p_as_growth, player(whole, "1").change->p_as_growth, 1e-9);
  asked.worthwhile_s = 0.0;
  EXPECT_THROW(trend_of(written, asked), std::domain_error);
}

// Identity: a page's times are the readings of the reference and nothing else.
TEST(SeasonTrend, OwnTimesAreTheReadings) {
  const DrawnSeason drawn = test::draw_season({.three_courses = true, .share_changed = 0.4}, 7950);
  const SeasonTrend result = trend_of(test::written(drawn));
  double bias_s =
      timing::reading_error(devices().default_for(runs::Device::stopwatch), runs::StartKind::signal, "T0").bias_mean_s;
  for (std::size_t c = 0; c < drawn.season.children.size(); ++c) {
    std::vector<double> read;
    for (const auto& reading : drawn.season.readings) {
      if (reading.child == static_cast<int>(c) && reading.level == 0) {
        read.push_back(reading.time_s - bias_s);
      }
    }
    const SeasonPlayer& one = player(result, std::to_string(c + 1));
    ASSERT_EQ(one.times.size(), read.size());
    for (std::size_t k = 0; k < read.size(); ++k) {
      EXPECT_NEAR(one.times[k].time_s, read[k], 1e-12);
    }
    EXPECT_GE(one.evenings, 2U);
    EXPECT_TRUE(one.mean_early_s && one.mean_late_s);
  }
  EXPECT_GT(*result.one_run_noise_s, 0.05);
}

// Six children over six evenings, three runs of 20 m with marks at 10 and 20 m and the first move. Invented: sprints of
// known speed, scatter by a fixed rule.
runs::RunLog sprints(double faster_from_half, double reaction_gain_s, double slip_s) {
  std::string csv = "# start: signal\ndate,player,course,trial,timer,move,10m,20m\n";
  for (int e = 0; e < 6; ++e) {
    for (int p = 1; p <= 6; ++p) {
      for (int r = 1; r <= 3; ++r) {
        const double late = e >= 3 && p == 2 ? 1.0 : 0.0;
        const double reaction_s = 0.34 + 0.02 * p - late * reaction_gain_s + 0.02 * ((7 * e + 5 * p + 3 * r) % 5 - 2);
        const double speed = (1.0 + 0.02 * p) * (1.0 + late * faster_from_half);
        const double scatter = 1.0 + 0.006 * ((3 * e + 7 * p + 4 * r) % 5 - 2);
        const double slip = e == 4 && p == 5 && r == 2 ? slip_s : 0.0;
        const auto mark = [&](double distance_m) {
          return reaction_s + scatter * season::moving_time_s(distance_m, 5.5, 1.1) / speed + slip;
        };
        char line[160];
        std::snprintf(line, sizeof line, "2026-04-%02d,%d,straight,%d,AK,%.2f,%.2f,%.2f\n", 1 + 5 * e, p, r,
                      reaction_s + slip, mark(10.0), mark(20.0));
        csv += line;
      }
    }
  }
  return runs::read_run_log(csv, "sprints.csv").log;
}

// Identity: of a child whose whole sprint is 6 % faster each part is; the part is the later time less the earlier one,
// so the reaction is not in it.
TEST(SeasonTrend, FromOneMarkToAnother) {
  const runs::RunLog log = sprints(0.06, 0.0, 0.0);
  TrendOptions asked;
  asked.from_mark = "10m";
  const SeasonTrend part = trend_of({log, {}}, asked);
  EXPECT_EQ(part.mark, "20m");
  EXPECT_EQ(part.from_mark, "10m");
  EXPECT_NEAR(*part.distance_m, 10.0, 1e-9);
  const double part_s = (season::moving_time_s(20.0, 5.5, 1.1) - season::moving_time_s(10.0, 5.5, 1.1)) / 1.04;
  const SeasonPlayer& faster = part.players.front();
  EXPECT_EQ(faster.player, "2");
  EXPECT_TRUE(is_faster(faster.change->verdict)) << faster.verdict;
  EXPECT_NEAR(faster.change->change_s, -0.06 / 1.06 * part_s, 0.25 * 0.06 * part_s);
  EXPECT_NEAR(*faster.mean_early_s, part_s, 0.03);
  asked = {};
  asked.mark = "20m";
  EXPECT_NEAR(player(trend_of({log, {}}, asked), "2").change->p_faster, faster.change->p_faster, 0.03);
  asked.from_mark = "30m";
  const std::vector<std::string> notes = trend_of({log, {}}, asked).notes;
  EXPECT_TRUE(std::any_of(notes.begin(), notes.end(), [](const std::string& note) {
    return note.find("before it at '30m'") != std::string::npos;
  }));
}

// Identity: one child reacts 0.12 s sooner from half time on and runs no faster; its sprint is not called faster for
// it. A clock started 0.5 s late is named and changes no word.
TEST(SeasonTrend, TheReactionIsAStateOfItsOwn) {
  TrendOptions asked;
  asked.mark = "move";
  for (const double slip_s : {0.0, -0.3, 0.5}) {
    const runs::RunLog log = sprints(0.0, 0.12, slip_s);
    const SeasonTrend result = trend_of({log, {}}, asked);
    EXPECT_TRUE(result.reaction);
    EXPECT_TRUE(result.course.empty());
    EXPECT_EQ(result.times_used, 108U);
    const SeasonPlayer& first = result.players.front();
    EXPECT_EQ(first.player, "2");
    // A press at the move scatters by 0.1 s, so that so few moves tell a change of 0.12 s as a hint and no more.
    EXPECT_TRUE(is_faster(first.change->verdict)) << slip_s;
    EXPECT_LT(first.change->change_s, -0.03);
    EXPECT_GT(first.change->change_s, -0.12);
    for (std::size_t k = 1; k < result.players.size(); ++k) {
      EXPECT_FALSE(is_faster(result.players[k].change->verdict) || is_slower(result.players[k].change->verdict))
          << result.players[k].player << " " << slip_s;
    }
    if (slip_s > 0.0) {
      ASSERT_FALSE(result.suspects.empty());
      EXPECT_EQ(result.suspects.front().reading.player, "5");
    }
    EXPECT_NE(player(trend_of({log, {}}), "2").change->verdict, Verdict::surely_faster);
  }
  runs::RunLog log = sprints(0.0, 0.12, 0.0);
  for (runs::Reading& reading : log.readings) {
    reading.start = runs::StartKind::self;
  }
  const SeasonTrend none = trend_of({log, {}}, asked);
  EXPECT_NE(none.notes.back().find("no reaction to compare"), std::string::npos);
  EXPECT_EQ(none.left_out.front().reason, "no_signal");
}

}  // namespace
}  // namespace bagsplit::jobs
