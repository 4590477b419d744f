// The season as a caller meets it: what must not matter does not, a dirty sheet does no harm, wrong calls are refused.
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <cstring>
#include <stdexcept>
#include <string>

#include "bagsplit/inference/season/fit.hpp"
#include "bagsplit/inference/season/sprint.hpp"
#include "bagsplit/stats/random.hpp"
#include "season/reference_case.hpp"
#include "season/world.hpp"

namespace {

namespace season = bagsplit::season;
using bagsplit::test::draw_season;
using bagsplit::test::DrawnSeason;
using bagsplit::test::named;

season::Season mixed() {
  return bagsplit::test::season_of(bagsplit::test::reference_case("mixed").at("season"));
}

std::vector<double> numbers(const season::Fit& fit) {
  std::vector<double> out;
  for (const auto& c : fit.changes()) {
    out.insert(out.end(), {c.change_s, c.interval_s.lo, c.interval_s.hi, c.beyond_growth_s.mean, c.beyond_growth_s.sd,
                           c.p_faster, c.p_slower, c.p_as_growth, c.conditions_s, c.p_line});
    const auto ability = fit.ability(c.child, fit.squad().reference_level, 30.0);
    out.push_back(ability ? ability->interval_s.hi : 0.0);
  }
  out.push_back(fit.squad().share_changed);
  out.push_back(fit.squad().common_move.sd);
  return out;
}

// Identity: the same bits.
TEST(Season, IsTheSameForAnyNumberOfThreads) {
  season::Options one, three;
  three.threads = 3;
  const auto data = mixed();
  const auto a = numbers(season::fit_season(data, one));
  const auto b = numbers(season::fit_season(data, three));
  ASSERT_EQ(a.size(), b.size());
  EXPECT_EQ(std::memcmp(a.data(), b.data(), a.size() * sizeof(double)), 0);
}

// Identity: the order of readings on a sheet means nothing; sums differ by rounding, and messages stop within 1e-4.
TEST(Season, DoesNotDependOnTheOrderOfReadings) {
  auto data = mixed();
  const auto a = numbers(season::fit_season(data));
  std::reverse(data.readings.begin(), data.readings.end());
  const auto b = numbers(season::fit_season(data));
  for (std::size_t i = 0; i < a.size(); ++i) {
    EXPECT_NEAR(a[i], b[i], 1e-6);
  }
}

// Identity: a watch that reads a tenth of a second more all season, on every time, changes nothing but that.
TEST(Season, ABiasOfTheOnlyTimerIsNoChange) {
  auto drawn = draw_season(named("third"), 11);
  const auto before = season::fit_season(drawn.season).changes();
  for (auto& reading : drawn.season.readings) {
    reading.time_s += 0.1;
  }
  const auto after = season::fit_season(drawn.season).changes();
  for (std::size_t i = 0; i < before.size(); ++i) {
    EXPECT_NEAR(before[i].change_s, after[i].change_s, 0.004);  // shares of a moving time 0.1 s longer
    EXPECT_NEAR(before[i].p_faster, after[i].p_faster, 0.03);
  }
}

// Identity: what was drawn. A thumb or a digit slip of 1 s is found and taken for no change.
TEST(Season, ASlipIsFoundAndMovesNobody) {
  auto drawn = draw_season(named("null"), 12);
  const auto before = season::fit_season(drawn.season);
  drawn.season.readings[40].time_s += 1.0;
  const auto after = season::fit_season(drawn.season);
  ASSERT_EQ(after.suspected().size(), before.suspected().size() + 1);
  const auto suspected = after.suspected();
  EXPECT_TRUE(
      std::any_of(suspected.begin(), suspected.end(), [](const auto& s) { return s.reading == 40 && s.p > 0.95; }));
  const auto child = static_cast<std::size_t>(drawn.season.readings[40].child);
  EXPECT_NEAR(after.changes()[child].change_s, before.changes()[child].change_s, 0.03);
  EXPECT_NEAR(after.changes()[child].p_faster, before.changes()[child].p_faster, 0.1);
}

// Common practice, no source: bibs swapped on the last evening are no change of two children.
TEST(Season, SwappedBibsOfOneEveningNameNobody) {
  auto drawn = draw_season(named("null"), 13);
  const auto has = [&](int child, int date) {
    return std::any_of(drawn.season.readings.begin(), drawn.season.readings.end(),
                       [&](const auto& r) { return r.child == child && r.date == date; });
  };
  int last = 7;  // on which both are there
  while (!has(0, last) || !has(1, last)) {
    --last;
  }
  for (auto& reading : drawn.season.readings) {
    if (reading.date == last && reading.child < 2) {
      reading.child = 1 - reading.child;
    }
  }
  const auto fit = season::fit_season(drawn.season);
  for (const auto& change : fit.changes()) {
    EXPECT_LT(std::max(change.p_faster, change.p_slower), 0.75) << change.child;
  }
  const auto suspected = fit.suspected_evenings();
  ASSERT_EQ(suspected.size(), 2U);
  for (int child = 0; child < 2; ++child) {
    EXPECT_EQ(suspected[static_cast<std::size_t>(child)].child, child);
    EXPECT_EQ(suspected[static_cast<std::size_t>(child)].date, last);
  }
  EXPECT_TRUE(fit.suspected().empty());
}

// Common practice, no source: a watch started late by 0.3 s at one evening's every run is the evening's, nobody's
// change.
TEST(Season, ALateClockAllEveningNamesNobody) {
  auto drawn = draw_season(named("null"), 14);
  for (auto& reading : drawn.season.readings) {
    if (reading.date == 7) {
      reading.time_s -= 0.3;
    }
  }
  const auto fit = season::fit_season(drawn.season);
  for (const auto& change : fit.changes()) {
    EXPECT_LT(change.p_faster, 0.5) << change.child;
  }
  EXPECT_LT(fit.shared(season::Shared::evening, 7).value.mean, -0.03);
}

/// Circuits timed at all four bags by one watch, two an evening, with growth only.
season::Season circuits(std::uint64_t seed) {
  bagsplit::stats::RandomStream random(seed);
  season::Season out;
  out.days = {0.0, 12.0, 24.0, 36.0, 48.0, 60.0, 72.0, 84.0};
  for (int bag = 1; bag <= 4; ++bag) {
    const double turns_s = 0.34 * (bag - 1);
    out.levels.push_back({18.288 * bag, turns_s, bag > 1, season::course_response(18.288 * bag, turns_s)});
  }
  out.timers = {{0.05}};
  out.devices = {{0.14}};
  out.children.assign(14, {.age_yr = 10.0});
  for (int child = 0; child < 14; ++child) {
    const double speed = 5.5 + 0.4 * random.normal();
    for (int date = 0; date < 8; ++date) {
      const double form = 0.012 * random.normal() - 0.035 * out.days[static_cast<std::size_t>(date)] / 365.25;
      for (int run = 0; run < 2; ++run) {
        const double effort = 0.018 * random.normal(), start = 0.075 * random.normal();
        for (int bag = 1; bag <= 4; ++bag) {
          const double moving = season::moving_time_s(18.288 * bag, speed, 1.05) + 0.34 * (bag - 1);
          out.readings.push_back({.child = child,
                                  .date = date,
                                  .level = bag - 1,
                                  .run = run,
                                  .time_s = 0.25 + moving * std::exp(form + effort) + start + 0.06 * random.normal(),
                                  .mark_sd_s = 0.057,
                                  .start_sd_s = 0.057,
                                  .reaction_sd_s = 0.05});
        }
      }
    }
  }
  return out;
}

// Common practice, no source: a watch started 0.6 s late for one run with four marks moves nobody far.
TEST(Season, ALateClockOfOneRunMovesNobodyFar) {
  for (std::uint64_t seed = 50; seed < 54; ++seed) {
    auto data = circuits(seed);
    const auto before = season::fit_season(data).changes();
    for (auto& reading : data.readings) {
      reading.time_s -= reading.child == 0 && reading.date == 7 && reading.run == 0 ? 0.6 : 0.0;
    }
    const auto after = season::fit_season(data).changes();
    EXPECT_NEAR(after[0].change_s, before[0].change_s, 0.04);
    EXPECT_NEAR(after[0].p_faster, before[0].p_faster, 0.08);
  }
}

// Common practice, no source: a word needs readings early and late.
TEST(Season, SaysWhoWasNotSeenEarlyAndLate) {
  auto drawn = draw_season(named("null"), 15);
  std::erase_if(drawn.season.readings, [](const auto& r) { return r.child == 3 || (r.child == 4 && r.date > 3); });
  const auto changes = season::fit_season(drawn.season).changes();
  EXPECT_EQ(changes[3].verdict, season::Verdict::not_seen_early_and_late);
  EXPECT_EQ(changes[4].verdict, season::Verdict::not_seen_early_and_late);
  EXPECT_FALSE(changes[4].seen_early_and_late);
  EXPECT_TRUE(changes[5].seen_early_and_late);
  EXPECT_GT(changes[4].interval_s.half_width(), changes[5].interval_s.half_width());
}

// Identity: a child of unknown age has the growth of an 11-year-old, and more doubt of it.
TEST(Season, AnUnknownAgeWidensGrowth) {
  auto drawn = draw_season(named("nine_months"), 16);
  const auto known = season::fit_season(drawn.season).changes();
  drawn.season.children[0].age_yr.reset();
  const auto unknown = season::fit_season(drawn.season).changes();
  EXPECT_NEAR(unknown[0].growth_s.sd, known[0].growth_s.sd * std::sqrt(2.0), 1e-6);
  EXPECT_GT(unknown[0].interval_s.half_width(), known[0].interval_s.half_width());
  EXPECT_NEAR(unknown[1].change_s, known[1].change_s, 0.01);
}

// Identity: a growth known otherwise goes before that by age, whatever the age.
TEST(Season, AGrowthKnownOtherwiseGoesBeforeTheTable) {
  auto data = draw_season(named("null"), 16).season;
  for (auto& child : data.children) {
    child.growth_per_yr = -0.06;
  }
  const auto before = season::fit_season(data).changes();
  for (auto& child : data.children) {
    child.age_yr.reset();
  }
  const auto after = season::fit_season(data).changes();
  const double years = (77.0 + 84.0 + 63.0 - 0.0 - 7.0 - 21.0) / 3.0 / 365.25;  // between the thirds of the dates
  const double moving_s = before[0].growth_s.mean / (-0.06 * years);
  EXPECT_GT(moving_s, 2.5);
  EXPECT_LT(moving_s, 6.0);
  for (std::size_t i = 0; i < before.size(); ++i) {
    EXPECT_EQ(before[i].change_s, after[i].change_s);
  }
}

// Identity: what was drawn. A ground 3 % faster and a timer that reads 0.1 s more are told as conditions, not as
// change.
TEST(Season, TellsWhatTheConditionsExplain) {
  auto ground = named("null");
  ground.evening_sd = 0.002;
  ground.new_ground = -0.03;
  auto timer = ground;
  timer.new_ground = 0.0;
  timer.new_timer = true;
  double by_ground = 0.0, by_timer = 0.0, moving_s = 0.0;
  const auto on_ground = draw_season(ground, 21);
  for (const auto& change : season::fit_season(on_ground.season).changes()) {
    by_ground += change.conditions_s / 30.0;
    moving_s += (on_ground.last_s[static_cast<std::size_t>(change.child)] - 0.25) / 30.0;
  }
  for (const auto& change : season::fit_season(draw_season(timer, 21).season).changes()) {
    by_timer += change.conditions_s / 30.0;
  }
  EXPECT_NEAR(by_ground, -0.03 * moving_s, 0.05);
  EXPECT_NEAR(by_timer, 0.1, 0.05);
}

// Identity: growth and the squad's move are in the change; what a change through the season does is spread over it.
TEST(Season, AbilityMovesFromDayToDayAsTheChangeSays) {
  const auto drawn = draw_season(named("third"), 17);
  const auto fit = season::fit_season(drawn.season);
  const auto changes = fit.changes({0}, {7});
  for (const auto& change : changes) {
    const auto first = fit.ability(change.child, 0, drawn.season.days.front());
    const auto last = fit.ability(change.child, 0, drawn.season.days.back());
    const auto between = fit.ability(change.child, 0, 60.0);
    ASSERT_TRUE(first && last && between);
    EXPECT_NEAR(last->time_s.mean - first->time_s.mean, change.change_s, 1e-9);
    EXPECT_GE(between->time_s.mean, std::min(first->time_s.mean, last->time_s.mean) - 1e-9);
    EXPECT_LE(between->time_s.mean, std::max(first->time_s.mean, last->time_s.mean) + 1e-9);
  }
  // Of the one ground of this season less is in doubt than of any ground.
  EXPECT_LT(fit.ability(0, 0, 60.0, 0)->time_s.sd, fit.ability(0, 0, 60.0)->time_s.sd);
}

// Identity: with the share known to be 0 nobody changed; what is left is growth and the squad.
TEST(Season, AShareOfNoneNamesNobody) {
  season::Options options;
  options.share_changed = 0.0;
  const auto fit = season::fit_season(draw_season(named("third"), 18).season, options);
  for (const auto& change : fit.changes()) {
    EXPECT_EQ(change.p_changed, 0.0);
    EXPECT_DOUBLE_EQ(change.beyond_growth_s.mean, 0.0);
  }
  EXPECT_FALSE(fit.squad().smallest_detectable);
}

// Common practice, no source: small squads and doubled rows are answered, with wide intervals.
TEST(Season, AnswersForASquadOfOneAndForARowEnteredTwice) {
  auto drawn = draw_season(named("null"), 20);
  std::erase_if(drawn.season.readings, [](const auto& r) { return r.child != 0; });
  drawn.season.children.resize(1);
  const auto alone = season::fit_season(drawn.season).changes();
  ASSERT_EQ(alone.size(), 1U);
  EXPECT_TRUE(std::isfinite(alone[0].change_s));
  EXPECT_GT(alone[0].interval_s.half_width(), 0.05);
  drawn.season.readings.push_back(drawn.season.readings.front());  // the same run, timer and press again
  const auto twice = season::fit_season(drawn.season).changes();
  EXPECT_NEAR(twice[0].change_s, alone[0].change_s, 0.02);
}

struct Parts {
  double top_speed = 0.0, first_acceleration = 0.0;
};

/// Mean over the children that changed, weighted by P(changed), in six seasons of three courses.
Parts parts_told(bagsplit::test::World::Part part) {
  auto world = named("three_courses");
  world.part = part;
  season::Options options;
  options.parts = true;
  Parts sum;
  double weight = 0.0;
  for (std::uint64_t seed = 0; seed < 6; ++seed) {
    const auto drawn = draw_season(world, 700 + seed);
    for (const auto& change : season::fit_season(drawn.season, options).changes()) {
      if (drawn.changed[static_cast<std::size_t>(change.child)]) {
        sum.top_speed += change.p_changed * change.p_top_speed;
        sum.first_acceleration += change.p_changed * change.p_first_acceleration;
        weight += change.p_changed;
      }
    }
  }
  return {sum.top_speed / weight, sum.first_acceleration / weight};
}

// Identity: what was drawn. Beforehand each of the two has 0.25; three courses part them.
TEST(Season, SeveralCoursesPartTopSpeedFromFirstAcceleration) {
  const auto speed = parts_told(bagsplit::test::World::Part::top_speed);
  const auto acceleration = parts_told(bagsplit::test::World::Part::first_acceleration);
  EXPECT_GT(speed.top_speed, 0.35);
  EXPECT_LT(speed.first_acceleration, 0.15);
  EXPECT_GT(acceleration.first_acceleration, 0.35);
  EXPECT_LT(acceleration.top_speed, 0.15);
  RecordProperty("speed", std::to_string(speed.top_speed) + " " + std::to_string(speed.first_acceleration));
  RecordProperty("acceleration",
                 std::to_string(acceleration.top_speed) + " " + std::to_string(acceleration.first_acceleration));
}

void expect_refused(const season::Season& data, const std::string& what) {
  try {
    season::fit_season(data);
    FAIL() << "accepted: " << what;
  } catch (const std::logic_error& error) {
    EXPECT_NE(std::string(error.what()).find(what), std::string::npos) << error.what();
  }
}

// Common practice, no source: who, what, the value, the bound.
TEST(Season, RefusesWhatCannotBe) {
  const auto good = draw_season(named("null"), 19).season;
  const auto refused = [&](auto break_it, const std::string& what) {
    auto data = good;
    break_it(data);
    expect_refused(data, what);
  };
  refused([](auto& s) { s.days = {0.0}; }, "two dates");
  refused([](auto& s) { s.days[3] = s.days[2]; }, "days[3] is 21");
  refused([](auto& s) { s.readings.clear(); }, "needs readings");
  refused([](auto& s) { s.readings[5].child = 30; }, "readings[5].child is 30, but there are 30");
  refused([](auto& s) { s.readings[5].time_s = std::nan(""); }, "readings[5].time_s");
  refused([](auto& s) { s.readings[6].mark_sd_s = 0.0; }, "readings[6].mark_sd_s is 0");
  refused([](auto& s) { s.readings[6].wind_mps = 40.0; }, "readings[6].wind_mps is 40");
  refused([](auto& s) { s.children[2].age_yr = -1.0; }, "children[2].age_yr is -1");
  refused([](auto& s) { s.moving_time_s = {{1.0}}; }, "a row a child");
  const auto fit = season::fit_season(good);
  EXPECT_DOUBLE_EQ(fit.common_move({0, 1, 2}, {5, 6, 7}).mean, fit.squad().common_move.mean);
  EXPECT_THROW(fit.common_move({}, {7}), std::invalid_argument);
  EXPECT_THROW(fit.changes({}, {7}), std::invalid_argument);
  EXPECT_THROW(fit.changes({0}, {8}), std::invalid_argument);
  EXPECT_THROW(fit.ability(0, 1, 0.0), std::invalid_argument);
  EXPECT_THROW(fit.shared(season::Shared::ground, 1), std::invalid_argument);
}

}  // namespace
