// Ability on one day where runs span weeks, against seasons with truth. Invented data.
#include <gtest/gtest.h>

#include <cmath>
#include <sstream>
#include <string>
#include <vector>

#include "bagsplit/inference/season/growth.hpp"
#include "bagsplit/inference/season/sprint.hpp"
#include "bagsplit/jobs/profile/profile.hpp"
#include "bagsplit/runs/log/log_summary.hpp"
#include "bagsplit/runs/log/run_log.hpp"
#include "bagsplit/runs/roster/roster.hpp"
#include "bagsplit/runs/typed.hpp"
#include "bagsplit/stats/random.hpp"

namespace {

using namespace bagsplit;
using jobs::Estimate;

struct Truth {
  double top_speed_mps = 0.0, time_20m_s = 0.0;
  bool changed = false;
};

struct Told {
  std::string log, roster;
  std::vector<Truth> last;  // on the last date, by player
};

struct World {
  std::vector<int> days{0, 7, 21, 35, 49, 63, 77, 84};
  int children = 16, runs = 2;
  double share_changed = 0.0;  // by 3-5 % of the time through the season, three in four faster
  int squeeze = 1;             // days as written down: so many times closer together
  std::string extra;           // rows
};

std::string day(int days_after) {
  return runs::format_date(
      runs::Date(std::chrono::sys_days{std::chrono::year{2026} / 3 / 2} + std::chrono::days{days_after}));
}

// Straights through single beams, self-started: errors as data/devices/gate-single-beam.json has them.
Told draw(const World& world, std::uint64_t seed) {
  stats::RandomStream random(seed, 0);
  const auto normal = [&](double mean, double sd) { return mean + sd * random.normal(); };
  Told out;
  std::ostringstream log, roster;
  log << "# device: gate\n# start: self\n# timer: G\ndate,player,course,10m,20m,30m\n";
  roster << "player,sex,born\n";
  const double bias_s = normal(-0.065, std::hypot(0.028, 0.01));
  std::vector<double> evening;
  for (std::size_t j = 0; j < world.days.size(); ++j) {
    evening.push_back(normal(0.0, 0.004));
  }
  for (int c = 0; c < world.children; ++c) {
    const double age = 8.5 + 5.5 * random.uniform();
    const season::Sex sex = random.uniform() < 0.5 ? season::Sex::male : season::Sex::female;
    const double top_speed = (5.0 + 0.26 * (age - 8.5)) * std::exp(normal(0.0, 0.07));
    const double time_constant = top_speed / (6.4 * std::exp(normal(0.0, 0.09)));
    const double own = normal(0.0, 0.015);
    Truth truth;
    truth.changed = random.uniform() < world.share_changed;
    const double size = 0.03 + 0.02 * random.uniform();
    const double change = truth.changed ? (random.uniform() < 0.75 ? -size : size) : 0.0;
    const auto slower = [&](int on) {
      const double years = on / 365.25;
      return std::exp(season::growth_between(sex, age, age + years) + own * years + change * on / world.days.back());
    };
    const auto time_s = [&](double distance_m, double factor) {
      return season::moving_time_s(distance_m, top_speed, time_constant) * factor;
    };
    truth.top_speed_mps = top_speed / slower(world.days.back());
    truth.time_20m_s = time_s(20.0, slower(world.days.back()));
    out.last.push_back(truth);
    roster << c + 1 << (sex == season::Sex::male ? ",M," : ",F,") << day(-static_cast<int>(365.25 * age)) << "\n";
    for (std::size_t j = 0; j < world.days.size(); ++j) {
      const double form = normal(0.0, 0.012) + evening[j];
      for (int r = 0; r < world.runs; ++r) {
        const double factor = slower(world.days[j]) * std::exp(form + normal(0.0, 0.018));
        const double start_s = bias_s + normal(0.0, 0.02);
        log << day(world.days[j] / world.squeeze) << "," << c + 1 << ",straight";
        for (const double distance_m : {10.0, 20.0, 30.0}) {
          log << "," << std::round(100.0 * (time_s(distance_m, factor) + start_s + normal(0.0, 0.03))) / 100.0;
        }
        log << "\n";
      }
    }
  }
  out.log = log.str() + world.extra;
  out.roster = roster.str();
  return out;
}

jobs::ProfileResult profile_of(const Told& told, std::optional<runs::Date> as_of = {}) {
  const runs::RosterResult roster = runs::read_roster(told.roster, "roster.csv");
  const runs::RunLogResult log = runs::read_run_log(told.log, "log.csv");
  EXPECT_FALSE(log.log.runs.empty());
  jobs::ProfileOptions options;
  options.as_of = as_of;
  return jobs::profile(log.log, roster.roster, {}, norms::Catalogue::builtin(), options);
}

struct Tally {
  int children = 0, covered = 0, changed = 0, covered_changed = 0;
  double error2 = 0.0;
  double share() const { return static_cast<double>(covered) / children; }
  double share_changed() const { return static_cast<double>(covered_changed) / changed; }

  void add(const Estimate& said, double truth, bool has_changed) {
    const bool in = said.lo <= truth && truth <= said.hi;
    ++children;
    covered += in ? 1 : 0;
    changed += has_changed ? 1 : 0;
    covered_changed += has_changed && in ? 1 : 0;
    error2 += (said.mean - truth) * (said.mean - truth);
  }
};

struct Tallies {
  Tally speed, time;
};

Tallies tally(const World& world, int seasons, std::uint64_t seed) {
  Tallies out;
  for (int s = 0; s < seasons; ++s) {
    const Told told = draw(world, seed + static_cast<std::uint64_t>(s));
    const jobs::ProfileResult result = profile_of(told);
    for (const jobs::PlayerProfile& player : result.players) {
      const Truth& truth = told.last.at(std::stoul(player.player) - 1);
      out.speed.add(player.top_speed_mps.value(), truth.top_speed_mps, truth.changed);
      for (const auto& [name, time] : player.predicted_time_s) {
        if (name == "20m") {
          out.time.add(time, truth.time_20m_s, truth.changed);
        }
      }
    }
  }
  return out;
}

// Identity: within four weeks all runs are one state and no day is named; beyond, the last date, or the one asked for.
TEST(AsOf, NamesTheDayWhereRunsSpanWeeks) {
  World world;
  world.children = 4;
  EXPECT_EQ(profile_of(draw(world, 1)).as_of, runs::parse_date("2026-05-25", runs::DateOrder::iso));
  const runs::Date later = runs::parse_date("2026-11-25", runs::DateOrder::iso).value();
  const auto then = profile_of(draw(world, 1), later);
  EXPECT_EQ(then.as_of, later);
  EXPECT_NEAR(then.players[0].age_years.value() - profile_of(draw(world, 1)).players[0].age_years.value(), 0.5, 0.01);
  world.squeeze = 3;
  EXPECT_FALSE(profile_of(draw(world, 1)).as_of);
}

// Identity: children of 8 to 14 grow, so half a year on each is expected to be faster, and less is known of it.
TEST(AsOf, ALaterDayIsFasterAndLessCertain) {
  World world;
  world.children = 8;
  const Told told = draw(world, 2);
  const auto now = profile_of(told);
  const auto then = profile_of(told, runs::parse_date("2026-11-25", runs::DateOrder::iso));
  double gain = 0.0;
  for (std::size_t k = 0; k < now.players.size(); ++k) {
    gain += then.players[k].top_speed_mps->mean - now.players[k].top_speed_mps->mean;
    EXPECT_GT(then.players[k].top_speed_mps->sd, now.players[k].top_speed_mps->sd);
  }
  EXPECT_GT(gain, 0.0);
}

// Identity: on the last date a child's place over the dates is the one told of it; all places are in order, and the
// child's dates stand in theirs. Where runs are one state there is none.
TEST(AsOf, APlaceOnEachDateEndsWithThePlaceTold) {
  World world;
  world.children = 4;
  const auto result = profile_of(draw(world, 4));
  int told = 0;
  for (const jobs::PlayerProfile& player : result.players) {
    for (const jobs::ProfilePercentile& percentile : player.percentiles) {
      if (percentile.over_dates.empty()) {
        continue;
      }
      ++told;
      EXPECT_EQ(percentile.over_dates.size(), world.days.size());
      EXPECT_EQ(percentile.over_dates.back().date, result.as_of);
      EXPECT_NEAR(percentile.over_dates.back().time_s.median, percentile.time_s->median,
                  1e-4);  // the medians are merged one by one
      for (std::size_t k = 0; k < percentile.over_dates.size(); ++k) {
        const jobs::PlaceThen& then = percentile.over_dates[k];
        EXPECT_LE(then.percentile.lo, then.percentile.median);
        EXPECT_LE(then.percentile.median, then.percentile.hi);
        EXPECT_TRUE(!then.z || then.z->lo < then.z->hi);
        EXPECT_TRUE(k == 0 || percentile.over_dates[k - 1].date < then.date);
      }
    }
  }
  EXPECT_GT(told, 0);
  world.squeeze = 3;
  const auto one_state = profile_of(draw(world, 4));
  for (const jobs::PlayerProfile& player : one_state.players) {
    for (const jobs::ProfilePercentile& percentile : player.percentiles) {
      EXPECT_TRUE(percentile.over_dates.empty());
    }
  }
}

// Computed: 8 seasons of 16 children, drawn and read by a program apart (Python): the 90 % interval held the speed and
// the time over 20 m of 90 to 91 % of the children over nine months of growth, of 87 to 88 % where a third changes and
// of 75 to 77 % of those that did; the mean of all runs, which a season written down as four weeks still gives, of 45
// to 66 %, 58 to 64 % and 15 to 17 %. Squared errors over nine months 0.41 of the mean's. Bounds leave three binomial
// SDs.
TEST(AsOf, HoldsOnTheLastDate) {
  World months;
  months.days = {0, 30, 60, 90, 120, 180, 240, 270};
  const Tallies grown = tally(months, 12, 500);
  months.squeeze = 10;
  const Tallies mean = tally(months, 12, 500);
  World third;
  third.share_changed = 1.0 / 3.0;
  const Tallies changed = tally(third, 12, 700);
  for (const Tallies* one : {&grown, &changed}) {
    for (const Tally* t : {&one->speed, &one->time}) {
      EXPECT_GE(t->share(), 0.85);
      EXPECT_LE(t->share(), 0.98);
    }
  }
  EXPECT_GE(changed.time.share_changed(), 0.70);
  EXPECT_LE(mean.speed.share(), 0.65);
  EXPECT_LE(grown.speed.error2, 0.6 * mean.speed.error2);
}

// Identity: one time a second short, or one run timed with a late start, moves what is said of that child by less than
// the half width of its interval, and of nobody else by more than a tenth of it.
TEST(AsOf, ASheetWithWrongTimes) {
  World world;
  const Told clean = draw(world, 3);
  const auto before = profile_of(clean);
  const auto with = [&](const std::string& from, const std::string& to) {
    Told out = clean;
    const auto at = out.log.find(from);
    EXPECT_NE(at, std::string::npos) << from;
    out.log.replace(at, from.size(), to);
    return profile_of(out);
  };
  const auto line = [&](const std::string& begins, double shift_10, double shift_20, double shift_30) {
    const auto at = clean.log.find(begins);
    const std::string row = clean.log.substr(at, clean.log.find('\n', at) - at);
    std::istringstream cells(row.substr(begins.size() + 10));
    double a = 0.0, b = 0.0, c = 0.0;
    char comma = 0;
    cells >> a >> comma >> b >> comma >> c;
    std::ostringstream out;
    out << begins << ",straight," << a + shift_10 << "," << b + shift_20 << "," << c + shift_30;
    return std::pair(row, out.str());
  };
  const auto slip = line("2026-05-25,3", 0.0, 0.0, -1.0);
  const auto late = line("2026-05-25,3", -0.4, -0.4, -0.4);
  for (const auto& [from, to] : {slip, late}) {
    const auto after = with(from, to);
    for (std::size_t k = 0; k < before.players.size(); ++k) {
      const Estimate& was = *before.players[k].top_speed_mps;
      const Estimate& is = *after.players[k].top_speed_mps;
      const double half = 0.5 * (was.hi - was.lo);
      EXPECT_LT(std::fabs(is.median - was.median), before.players[k].player == "3" ? half : 0.1 * half)
          << before.players[k].player << " " << to;
    }
  }
}

}  // namespace
