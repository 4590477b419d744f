// The main job on logs as a user would type them: published splits, a junior squad with one mark held back, and
// hand-made cases whose numbers for the model are written out beside them.
#include "bagsplit/jobs/profile/profile.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <numeric>
#include <sstream>
#include <string>

#include "bagsplit/inference/prior/prior.hpp"
#include "bagsplit/inference/reading/assemble.hpp"
#include "bagsplit/runs/log/run_log.hpp"
#include "bagsplit/runs/roster/roster.hpp"
#include "support/digits.hpp"
#include "support/no_ages.hpp"

namespace {

using namespace bagsplit;
using jobs::Estimate;
using jobs::NamedEstimate;
using jobs::PlayerProfile;

struct Given {
  std::string log;
  std::string roster = "player\n";
  std::string model = "{}";
  jobs::ProfileOptions options = [] {
    jobs::ProfileOptions alone;
    alone.squad = false;  // a player's own runs alone, where a test does not ask for the squad
    return alone;
  }();
};

std::string first_problem(const text::Problems& problems) {
  for (const text::Problem& p : problems) {
    if (p.severity == text::Severity::error) {
      return std::to_string(p.line) + ": " + p.message;
    }
  }
  return {};
}

jobs::ProfileResult profile_of(Given given, const timing::DeviceBook& devices = {}) {
  const runs::RosterResult roster = runs::read_roster(given.roster, "roster.csv");
  EXPECT_EQ(first_problem(roster.problems), "");
  const runs::RunLogResult log = runs::read_run_log(given.log, "log.csv");
  EXPECT_EQ(first_problem(log.problems), "");
  text::Problems problems;
  given.options.model = inference::read_model(given.model, "model.json", problems);
  EXPECT_EQ(first_problem(problems), "");
  return jobs::profile(log.log, roster.roster, devices, norms::Catalogue::builtin(), given.options);
}

const Estimate& named(const std::vector<NamedEstimate>& list, const std::string& name) {
  const auto it = std::find_if(list.begin(), list.end(), [&](const NamedEstimate& e) { return e.name == name; });
  EXPECT_NE(it, list.end()) << name;
  static const Estimate none{};
  return it == list.end() ? none : it->value;
}

// A model that is least squares on the times: wide priors, one error per split.
std::string least_squares_model(double split_sd_s) {
  std::ostringstream text;
  text
      << R"({"prior":{"log_top_speed":{"mean":2.4,"sd":3},"log_time_constant":{"mean":0.2,"sd":3},"late_slowing_per_s":{"mean":0,"sd":0},"reaction_s":{"mean":0.15,"sd":3}},)"
      << R"("error":{"effort_cv":0,"day_cv":0,"reaction_sd_s":0,"start_sd_s":0,"split_sd_s":)" << split_sd_s
      << R"(,"bias_s":0}})";
  return text.str();
}

struct PublishedFit {
  const char* name;
  const char* log;
  double v, tau, t0;           // least squares on the times
  double se_v, se_tau, se_t0;  // standard errors
  double residual_se;
};

// Source: splits of the men's 100 m final, Berlin 2009: Graubner & Nixdorf (2011), New Studies in Athletics
// 26(1/2):19-53; and Beijing 2008: Mackala & Mero (2013), J Hum Kinet 36:149-161. Times from the gun, s. Computed:
// R 4.2.2 nls on time ~ t0 + tau (c + W(-exp(-c))), agreeing with scipy 1.10.1 to 1e-7.
const PublishedFit published[] = {
    {"Berlin 2009",
     "# device: gate\n# start: signal\n# place: Berlin\ndate,player,course,10m,20m,30m,40m,50m,60m,70m,80m,90m,100m\n"
     "2009-08-16,B,straight,1.88,2.88,3.78,4.64,5.47,6.29,7.10,7.92,8.74,9.58\n",
     12.275141020148876, 1.3412988786168643, 0.07565280332509738, 0.03661386649902605, 0.046204288468852224,
     0.029448234257068558, 0.010363455170961515},
};

// Source: the splits and fits of `published` above, each with its own.
TEST(Profile, PublishedSplitsOfAChampionshipFinalGiveThePublishedModelsFit) {
  for (const PublishedFit& fit : published) {
    const jobs::ProfileResult result = profile_of({.log = fit.log, .model = least_squares_model(fit.residual_se)});
    ASSERT_EQ(result.players.size(), 1U);
    const PlayerProfile& p = result.players[0];
    ASSERT_TRUE(p.top_speed_mps && p.time_constant_s && p.reaction_s) << fit.name;
    // With wide priors the posterior median is the least-squares estimate but for the curve's bend within a standard
    // error.
    EXPECT_NEAR(p.top_speed_mps->median, fit.v, 0.1 * fit.se_v) << fit.name;
    EXPECT_NEAR(p.time_constant_s->median, fit.tau, 0.1 * fit.se_tau) << fit.name;
    EXPECT_NEAR(p.reaction_s->median, fit.t0, 0.1 * fit.se_t0) << fit.name;
    EXPECT_NEAR(p.top_speed_mps->sd / fit.se_v, 1.0, 0.05) << fit.name;
    EXPECT_NEAR(p.time_constant_s->sd / fit.se_tau, 1.0, 0.05) << fit.name;
    EXPECT_NEAR(p.reaction_s->sd / fit.se_t0, 1.0, 0.05) << fit.name;
    EXPECT_GT(*p.top_speed_mps->share_from_data, 0.99);
  }
}

struct SquadMeans {
  const char* sex;
  int age;
  double t10_s, t30_s, t60_s;
};

// Source: mean 0-10, 0-30 and 0-60 m times of junior jumpers in German squads, data DOI 10.5281/zenodo.18886568 (CC
// BY 4.0), first observation of each athlete in an age year, means computed from the raw data.
const SquadMeans squads[] = {
    {"F", 13, 1.827, 4.473, 8.317}, {"F", 14, 1.807, 4.439, 8.234}, {"F", 15, 1.808, 4.394, 8.113},
    {"F", 16, 1.816, 4.410, 8.153}, {"F", 17, 1.817, 4.412, 8.164}, {"M", 13, 1.750, 4.250, 7.784},
    {"M", 14, 1.731, 4.179, 7.631}, {"M", 15, 1.688, 4.071, 7.412}, {"M", 16, 1.662, 4.002, 7.281},
};

// Source: the squads above; within 3% is our own tolerance for a split held back. The trigger is not stated; 0.5 m is
// what data/norms/index.json takes these squads to have.
TEST(Profile, TheMiddleSplitOfAJuniorSquadIsPredictedWhenHeldBack) {
  std::ostringstream log;
  std::ostringstream roster;
  log << "# device: gate\n# start: beam 0.5 m\ndate,player,course,10m,60m\n";
  roster << "player,sex,born\n";
  int id = 1;
  for (const SquadMeans& squad : squads) {
    log << "2025-06-01," << id << ",straight," << squad.t10_s << ',' << squad.t60_s << '\n';
    roster << id << ',' << squad.sex << ',' << 2025 - squad.age << "-01-01\n";
    ++id;
  }
  jobs::ProfileOptions options;
  options.squad = true;  // athletes, far from the average of their age: what they share tells
  const jobs::ProfileResult result = profile_of({.log = log.str(), .roster = roster.str(), .options = options});
  ASSERT_EQ(result.players.size(), std::size(squads));
  for (std::size_t i = 0; i < std::size(squads); ++i) {
    const PlayerProfile& p = result.players[i];
    ASSERT_TRUE(p.top_speed_mps);
    const motion::Sprint sprint{p.top_speed_mps->median, p.time_constant_s->median};
    const double predicted = motion::time_from_beam(sprint, 0.5, 30.0);
    EXPECT_NEAR(predicted / squads[i].t30_s, 1.0, 0.03) << squads[i].sex << squads[i].age << ' ' << predicted;
  }
}

const char* const contract_model =
    R"({"prior":{"log_top_speed":{"mean":1.78,"sd":0.1},"log_time_constant":{"mean":-0.05,"sd":0.2},
        "late_slowing_per_s":{"mean":0,"sd":0},"reaction_s":{"mean":0.33,"sd":0.08},"posture_cost_s":{"prone":{"mean":0.8,"sd":0.3}},
        "segment_loss_s":{"first":{"mean":0.3,"sd":0.2},"second":{"mean":0.31,"sd":0.2},"third":{"mean":0.32,"sd":0.2},
        "home":{"mean":0.15,"sd":0.2},"second-stop":{"mean":0.7,"sd":0.3}}},
        "error":{"effort_cv":0.02,"day_cv":0.015,"reaction_sd_s":0.05,"start_sd_s":0.04,"split_sd_s":0.06,"bias_s":-0.1}})";

// Identity: without late slowing, the same readings written down for the model by hand, symbol by symbol, give the same
// posterior.
TEST(Profile, ALogBecomesTheModelsReadings) {
  const char* const log =
      "# base-distance: 60 ft\n# device: stopwatch\n# start: signal\n"
      "date,player,course,trial,timer,posture,start,move,first,second,third,home,9m\n"
      "2026-04-11,12,circuit,1,AK,,,,4.05,8.02,12.10,16.31,\n"
      "2026-04-11,12,circuit,1,RB,,,,4.11,8.05,12.22,16.36,\n"
      "2026-04-11,12,circuit,2,AK,,,,4.02,8.00,12.00,16.20,\n"
      "2026-04-18,12,home-second,1,AK,,,,4.00,8.60,,,\n"
      "2026-04-18,12,straight,1,AK,prone,,0.30,,,,,3.20\n"
      "2026-04-18,12,straight,2,AK,,self,,,,,,2.10\n";
  const jobs::ProfileResult result = profile_of({.log = log, .model = contract_model});
  ASSERT_EQ(result.players.size(), 1U);
  const PlayerProfile& got = result.players[0];
  EXPECT_EQ(got.runs_used, 5U);
  EXPECT_EQ(got.readings_used, 6U);

  enum { rt, first, second, third, home, second_stop, prone };
  inference::PlayerData data;
  data.log_top_speed = {1.78, 0.1};
  data.log_time_constant = {-0.05, 0.2};
  data.terms = {{0.33, 0.08}, {0.3, 0.2}, {0.31, 0.2}, {0.32, 0.2}, {0.15, 0.2}, {0.7, 0.3}, {0.8, 0.3}};
  data.effort_cv = 0.02;
  data.day_cv = 0.015;
  data.reaction_sd_s = 0.05;
  const double b = 18.288;
  const auto bits = [](std::initializer_list<int> terms) {
    std::uint64_t made = 0;
    for (const int t : terms) {
      made |= std::uint64_t{1} << t;
    }
    return made;
  };
  const auto circuit = [&](double t1, double t2, double t3, double t4) {
    return std::vector<inference::MarkData>{{b, t1 + 0.1, 0.06, bits({rt, first})},
                                            {2 * b, t2 + 0.1, 0.06, bits({rt, first, second})},
                                            {3 * b, t3 + 0.1, 0.06, bits({rt, first, second, third})},
                                            {4 * b, t4 + 0.1, 0.06, bits({rt, first, second, third, home})}};
  };
  data.add_run(1);
  data.add_reading(true, 0.0, 0.04, circuit(4.05, 8.02, 12.10, 16.31));
  data.add_reading(true, 0.0, 0.04, circuit(4.11, 8.05, 12.22, 16.36));
  data.add_run(1);
  data.add_reading(true, 0.0, 0.04, circuit(4.02, 8.00, 12.00, 16.20));
  data.add_run(8);
  data.add_reading(true, 0.0, 0.04,
                   std::vector<inference::MarkData>{{b, 4.10, 0.06, bits({rt, first})},
                                                    {2 * b, 8.70, 0.06, bits({rt, first, second_stop})}});
  data.add_run(8);
  data.add_reading(
      true, 0.0, 0.04,
      std::vector<inference::MarkData>{{0.0, 0.40, 0.06, bits({rt})}, {9.0, 3.30, 0.06, bits({rt, prone})}});
  data.add_run(8);
  data.add_reading(false, 0.0, 0.04, std::vector<inference::MarkData>{{9.0, 2.20, 0.06, 0}});
  data.slips = inference::default_model().error.slip.value();
  const inference::Posterior posterior(data);

  const auto same = [](const Estimate& a, const Estimate& e, const char* what) {
    EXPECT_NEAR(a.mean, e.mean, 1e-9) << what;
    EXPECT_NEAR(a.sd, e.sd, 1e-5) << what;
    EXPECT_NEAR(a.lo, e.lo, 1e-5) << what;
    EXPECT_NEAR(a.hi, e.hi, 1e-5) << what;
  };
  const auto term = [&](int t) {
    const std::uint32_t terms[] = {static_cast<std::uint32_t>(t)};
    return posterior.of_terms(terms, 0.9);
  };
  same(*got.reaction_s, term(rt), "reaction");
  same(named(got.segment_loss_s, "first"), term(first), "first");
  same(named(got.segment_loss_s, "second"), term(second), "second");
  same(named(got.segment_loss_s, "home"), term(home), "home");
  same(named(got.segment_loss_s, "second-stop"), term(second_stop), "second-stop");
  same(named(got.posture_cost_s, "prone"), term(prone), "prone");
  std::vector<double> v;
  std::vector<double> t10;
  for (const motion::Sprint& s : posterior.sprints()) {
    v.push_back(s.top_speed_mps);
    t10.push_back(motion::time_to_distance(s, 10.0));
  }
  same(*got.top_speed_mps, posterior.of_sprint(v, 0.9, std::nullopt), "top speed");
  same(named(got.predicted_time_s, "10m"), posterior.of_sprint(t10, 0.9, std::nullopt), "10 m");
  EXPECT_FALSE(got.reaction_holds_timer_bias);
  ASSERT_TRUE(got.straight_efficiency);
  EXPECT_GT(got.straight_efficiency->median, 0.7);
  EXPECT_LT(got.straight_efficiency->median, 1.0);
}

// Identity: what a model file says of how V and tau go together stands in the prior of the readings.
TEST(Profile, AModelFilesCorrelationIsInThePrior) {
  const char* const log =
      "# device: gate\n# start: "
      "signal\ndate,player,course,10m\n2026-04-11,12,straight,2.40\n2026-04-11,12,straight,2.45\n";
  const jobs::ProfileResult result = profile_of({.log = log, .model = R"({"prior":{
        "log_top_speed":{"mean":1.78,"sd":0.1},"log_time_constant":{"mean":-0.05,"sd":0.2},"log_correlation":0.7,
        "reaction_s":{"mean":0.33,"sd":0.08}},
        "error":{"effort_cv":0.02,"day_cv":0,"reaction_sd_s":0,"start_sd_s":0.04,"split_sd_s":0.06,"bias_s":0}})"});
  inference::PlayerData data;
  data.log_top_speed = {1.78, 0.1};
  data.log_time_constant = {-0.05, 0.2};
  data.slips = inference::default_model().error.slip.value();
  data.log_correlation = 0.7;
  data.terms = {{0.33, 0.08}};
  data.effort_cv = 0.02;
  for (const double time_s : {2.40, 2.45}) {
    const inference::MarkData mark{10.0, time_s, 0.06, 1};
    data.add_run(1);
    data.add_reading(true, 0.0, 0.04, std::span(&mark, 1));
  }
  const inference::Posterior posterior(data);
  std::vector<double> v;
  for (const motion::Sprint& s : posterior.sprints()) {
    v.push_back(s.top_speed_mps);
  }
  const Estimate expected = posterior.of_sprint(v, 0.9, std::nullopt);
  const Estimate& got = *result.players.at(0).top_speed_mps;
  EXPECT_NEAR(got.mean, expected.mean, 1e-9);
  EXPECT_NEAR(got.sd, expected.sd, 1e-9);
  data.log_correlation = 0.0;
  const inference::Posterior apart(data);
  v.clear();
  for (const motion::Sprint& s : apart.sprints()) {
    v.push_back(s.top_speed_mps);
  }
  EXPECT_GT(std::fabs(apart.of_sprint(v, 0.9, std::nullopt).mean - got.mean), 0.005);
}

// Computed: first acceleration of a child of 9 differs by 0.20 (SD of its logarithm) between children and its level is
// known to 0.15 (data/models/sprint-prior.json): 0.25 for a child alone, and it does not go with top speed.
TEST(Profile, APlayerAloneHasTheDoubtOfTheLevel) {
  inference::Assembled nine;
  nine.log_sprint = inference::log_sprint(inference::sprint_prior(9.0, runs::Sex::female));
  const inference::PlayerData data = inference::alone(nine);
  const double v = data.log_top_speed.sd;
  const double t = data.log_time_constant.sd;
  EXPECT_NEAR(v, std::hypot(0.077, 0.035), 1e-3);
  EXPECT_NEAR(std::sqrt(v * v + t * t - 2.0 * data.log_correlation * v * t), 0.25, 1e-9);
  EXPECT_NEAR(v * v - data.log_correlation * v * t, 0.0, 1e-12);
}

// Identity: efficiency is straight time over moving time; with losses fixed it is that ratio exactly.
TEST(Profile, EfficiencyIsStraightTimeOverMovingTime) {
  const char* const model =
      R"({"prior":{"segment_loss_s":{"first":{"mean":0.3,"sd":0},"second":{"mean":0.3,"sd":0},"third":{"mean":0.3,"sd":0},
          "home":{"mean":0.1,"sd":0}}}})";
  const jobs::ProfileResult result = profile_of(
      {.log = "# base-distance: 60 "
              "ft\ndate,player,course,first,second,third,home\n2026-04-11,12,circuit,4.05,8.02,12.10,16.31\n",
       .model = model});
  const PlayerProfile& p = result.players.at(0);
  const double moving = named(p.course_time_s, "circuit").median;
  EXPECT_DIGITS(p.straight_efficiency->median, (moving - 1.0) / moving, 4);
  EXPECT_DIGITS(named(p.straight_efficiency_by_course, "circuit").mean, p.straight_efficiency->mean, 15);
}

// Identity: a quantity no included reading depends on is absent, not zero.
// Identity: speed is V (1 - exp(-t/tau)); where V and tau are well known so is the curve.
TEST(Profile, TheSpeedCurveIsThatOfTheSprint) {
  Given given{published[0].log};
  given.model = least_squares_model(0.005);
  EXPECT_TRUE(profile_of(given).players.at(0).speed_curve.empty());
  given.options.speed_curve = true;
  const PlayerProfile player = profile_of(given).players.at(0);
  ASSERT_EQ(player.speed_curve.size(), 16U);
  EXPECT_EQ(player.speed_curve.back().time_s, 6.0);
  double before = 0.0;
  for (const jobs::SpeedAt& at : player.speed_curve) {
    const double expected = player.top_speed_mps->median * -std::expm1(-at.time_s / player.time_constant_s->median);
    EXPECT_NEAR(at.speed_mps.median, expected, 0.01 * expected) << at.time_s;
    EXPECT_GT(at.speed_mps.median, before);
    EXPECT_LE(at.speed_mps.lo, at.speed_mps.median);
    EXPECT_LE(at.speed_mps.median, at.speed_mps.hi);
    before = at.speed_mps.median;
  }
}

TEST(Profile, WhatNoReadingDependsOnIsAbsent) {
  const PlayerProfile straight =
      profile_of(
          {.log = "# device: gate\n# start: beam 0.5 m\ndate,player,course,10m,20m\n2026-04-11,7,straight,2.05,3.75\n"})
          .players.at(0);
  EXPECT_TRUE(straight.top_speed_mps);
  EXPECT_FALSE(straight.reaction_s);
  EXPECT_TRUE(straight.segment_loss_s.empty());
  EXPECT_FALSE(straight.straight_efficiency);
  EXPECT_TRUE(straight.percentiles.empty());
  const PlayerProfile move =
      profile_of({.log = "# device: stopwatch\n# start: signal\ndate,player,course,move\n2026-04-11,7,straight,0.35\n"})
          .players.at(0);
  EXPECT_FALSE(move.top_speed_mps);
  EXPECT_TRUE(move.predicted_time_s.empty());
  ASSERT_TRUE(move.reaction_s);
}

// Identity: flagged runs stay in the count and out of the estimates; dates outside the window likewise.
TEST(Profile, CountsWhatItLeavesOut) {
  Given given;
  given.log =
      "# base-distance: 60 ft\ndate,player,course,home,flag\n"
      "2026-04-01,3,circuit,16.0,\n2026-04-02,3,circuit,25.0,fall\n2026-04-02,3,circuit,,absent\n"
      "2026-05-01,3,circuit,15.9,\n2026-06-01,3,circuit,15.8,\n";
  const PlayerProfile all = profile_of(given).players.at(0);
  EXPECT_EQ(all.runs_used, 3U);
  EXPECT_EQ(all.runs_left_out, 2U);
  ASSERT_EQ(all.left_out_by_flag.size(), 2U);
  EXPECT_EQ(all.dates, 3U);
  given.options.as_of = runs::Date{std::chrono::year{2026} / 5 / 15};
  given.options.window_days = 20;
  const PlayerProfile window = profile_of(given).players.at(0);
  EXPECT_EQ(window.runs_used, 1U);
  EXPECT_EQ(window.left_out_window, 2U);
  EXPECT_EQ(window.runs_used + window.runs_left_out, 5U);
}

// Identity: the answer does not depend on the number of threads, nor on the order of the players.
TEST(Profile, ThreadsDoNotShow) {
  std::ostringstream log;
  log << "# base-distance: 60 ft\ndate,player,course,first,home\n";
  for (int i = 0; i < 64; ++i) {
    log << "2026-04-11," << 64 - i << ",circuit," << 4.0 + 0.01 * i << ',' << 16.0 + 0.03 * i << '\n';
  }
  Given given{.log = log.str()};
  const jobs::ProfileResult one = profile_of(given);
  given.options.threads = 4;
  const jobs::ProfileResult four = profile_of(given);
  ASSERT_EQ(one.players.size(), 64U);
  ASSERT_EQ(four.players.size(), 64U);
  for (std::size_t i = 0; i < 64; ++i) {
    EXPECT_EQ(one.players[i].player, std::to_string(i + 1));
    EXPECT_EQ(one.players[i].player, four.players[i].player);
    EXPECT_EQ(one.players[i].top_speed_mps->hi, four.players[i].top_speed_mps->hi);
    EXPECT_EQ(one.players[i].reaction_s->lo, four.players[i].reaction_s->lo);
  }
}

// Identity: a value mostly from the prior is said to be so, and the run named to settle it does shrink its SD.
TEST(Profile, NamesTheRunThatTellsMost) {
  const PlayerProfile p =
      profile_of({.log = "# base-distance: 60 ft\ndate,player,course,home\n2026-04-11,12,circuit,16.31\n"})
          .players.at(0);
  EXPECT_LT(*p.reaction_s->share_from_data, 0.5);
  EXPECT_FALSE(p.next_runs.empty());
  for (const jobs::NextRun& next : p.next_runs) {
    EXPECT_FALSE(next.run.empty());
    EXPECT_LT(next.sd_expected, 0.9 * next.sd_now) << next.quantity;
  }
}

// Identity: on a signal start with one hand watch, reaction and timer bias cannot be told apart; a self-started run
// tells more.
// Identity: a hand watch on a signal and a reference timed the same way carry one and the same bias, so it cancels: the
// time to compare is the time read, however uncertain the bias is. A player timed by gates has no such luck.
TEST(Profile, AHandTimeIsComparedWithAHandTimedReferenceWithoutTheirCommonBias) {
  std::string hand = "# device: stopwatch\n# start: signal\ndate,player,course,timer,20m\n";
  std::string gate = "# device: gate\n# start: signal\ndate,player,course,timer,20m\n";
  for (int i = 0; i < 40; ++i) {
    hand += "2026-04-11,9,straight,,4.35\n";
    gate += "2026-04-11,9,straight,,4.55\n";
  }
  const std::string roster = "player,sex,born\n9,F,2017-09-01\n";
  timing::DeviceBook hears;
  timing::DeviceProfile watch = *hears.find("stopwatch");
  watch.numbers.signal = timing::SignalRole::hears;
  hears.add(watch);
  const auto times = [&](const std::string& log) {
    const jobs::ProfileResult result = profile_of({.log = log, .roster = roster}, hears);
    for (const jobs::ProfilePercentile& p : result.players.at(0).percentiles) {
      if (p.quantity == "20m" && p.time_s) {
        return *p.time_s;
      }
    }
    ADD_FAILURE() << "no 20 m percentile";
    return Estimate{};
  };
  const Estimate by_hand = times(hand);
  EXPECT_NEAR(by_hand.mean, 4.35, 0.06);
  EXPECT_LT(by_hand.sd, 0.11);
  EXPECT_GT(times(gate).sd, 0.13);  // the 0.14 s of the reference's own timers stays
}

// Identity: what a squad's runs tell of the watch's bias, the reference's watches share as far as they were believed to
// before: a hand time still compares as itself, though this squad's watch is found to read 0.40 s less than the gates.
TEST(Profile, AHandTimeComparesAsItselfAlsoWhereTheSquadHasLearntTheBiasOfItsWatch) {
  std::string log = "# start: signal\ndate,player,course,trial,device,20m\n";
  std::string roster = "player,sex,born\n9,F,2017-09-01\n";
  for (int i = 0; i < 6; ++i) {
    const std::string id = std::to_string(20 + i);
    roster += id + ",F,2017-09-01\n";
    for (int trial = 1; trial <= 8; ++trial) {
      const std::string run = "2026-04-11," + id + ",straight," + std::to_string(trial);
      log += run + (trial % 2 == 0 ? ",gate,4.75\n" : ",stopwatch,4.35\n");
    }
  }
  for (int trial = 1; trial <= 40; ++trial) {
    log += "2026-04-11,9,straight," + std::to_string(trial) + ",stopwatch,4.35\n";
  }
  timing::DeviceBook hears;
  timing::DeviceProfile watch = *hears.find("stopwatch");
  watch.numbers.signal = timing::SignalRole::hears;
  hears.add(watch);
  jobs::ProfileOptions options;
  options.squad = true;
  const jobs::ProfileResult result = profile_of({.log = log, .roster = roster, .options = options}, hears);
  const PlayerProfile& hand_timed = result.players.at(0);
  ASSERT_EQ(hand_timed.player, "9");
  ASSERT_TRUE(hand_timed.percentiles.at(0).time_s);
  EXPECT_NEAR(hand_timed.percentiles[0].time_s->mean, 4.35, 0.05);
}

// Identity: the middle of what is thought is the middle, whatever interval is asked for around it. Skewed, and mixed
// over the scales of a squad: one run each over 10 m.
TEST(Profile, TheMedianDoesNotMoveWithTheLevel) {
  const auto at_level = [](double level) {
    jobs::ProfileOptions options;
    options.squad = true;
    options.level = level;
    return profile_of({.log = "# device: stopwatch\n# start: self\ndate,player,course,10m,20m\n"
                              "2026-04-11,7,straight,2.30,\n2026-04-11,8,straight,2.52,4.31\n"
                              "2026-04-11,9,straight,2.71,\n2026-04-18,9,straight,2.50,4.40\n",
                       .roster = "player,sex,born\n7,F,2011-01-01\n8,F,2013-01-01\n9,M,2014-06-01\n",
                       .options = options})
        .players;
  };
  const std::vector<PlayerProfile> usual = at_level(0.9);
  for (const double level : {0.2, 0.5, 0.99, 0.999}) {
    const std::vector<PlayerProfile> other = at_level(level);
    for (std::size_t i = 0; i < usual.size(); ++i) {
      EXPECT_EQ(other[i].time_constant_s->median, usual[i].time_constant_s->median) << level;
      EXPECT_EQ(other[i].top_speed_mps->median, usual[i].top_speed_mps->median) << level;
      EXPECT_EQ(other[i].max_acceleration_mps2->median, usual[i].max_acceleration_mps2->median) << level;
      EXPECT_LE(other[i].time_constant_s->lo, usual[i].time_constant_s->median) << level;
    }
  }
}

// Identity: the chance to beat a reference's median and the interval of the time beside it are of one distribution.
// Where the level is such that the interval ends at that median, the chance is the tail there. Skewed: one slow run
// over 10 m says little of 30 and 60 m.
TEST(Profile, TheChanceToBeatAReferenceGoesWithTheIntervalBesideIt) {
  const norms::Catalogue catalogue = norms::Catalogue::builtin();
  const auto at_level = [&](double level) {
    jobs::ProfileOptions options;
    options.squad = false;
    options.level = level;
    return profile_of({.log = "# device: gate\n# start: self\ndate,player,course,10m\n2026-04-11,9,straight,2.30\n",
                       .roster = "player,sex,born\n9,F,2011-01-01\n",
                       .options = options})
        .players.at(0);
  };
  int compared = 0;
  const PlayerProfile any = at_level(0.9);
  for (std::size_t k = 0; k < any.percentiles.size(); ++k) {
    const jobs::ProfilePercentile& p = any.percentiles[k];
    const norms::Norm* const norm = catalogue.find(p.source);
    if (norm == nullptr || norm->conditions().signal_start || !p.time_s) {
      continue;
    }
    const double median_s = norm->at(*any.age_years, *any.sex)->median_s();
    double lo = 1e-3;
    double hi = 1.0 - 1e-6;
    for (int i = 0; i < 20; ++i) {
      const double level = 0.5 * (lo + hi);
      const Estimate time = *at_level(level).percentiles[k].time_s;
      (time.lo < median_s && median_s < time.hi ? hi : lo) = level;
    }
    const double tail = 0.5 * (1.0 - hi);
    EXPECT_NEAR(p.p_faster.value(), p.time_s->median < median_s ? 1.0 - tail : tail, 2e-4) << p.source;
    ++compared;
  }
  EXPECT_GE(compared, 1);
}

// Regression: where no age is known the squad's fit swung to and fro, and some players were left without estimates.
TEST(Profile, WithoutAnyAgeTheSquadsFitSettlesAndEachPlayerHasEstimates) {
  jobs::ProfileOptions options;
  options.squad = true;
  const jobs::ProfileResult result = profile_of({.log = bagsplit_test::no_ages_log, .options = options});
  ASSERT_TRUE(result.squad);
  EXPECT_TRUE(result.squad->converged);
  EXPECT_TRUE(result.squad->ages_unknown);
  ASSERT_EQ(result.players.size(), std::size(bagsplit_test::no_ages_top_speed_mps));
  int covered = 0;
  for (std::size_t i = 0; i < result.players.size(); ++i) {
    ASSERT_TRUE(result.players[i].top_speed_mps) << result.players[i].player;
    const double truth = bagsplit_test::no_ages_top_speed_mps[i];
    covered += result.players[i].top_speed_mps->lo <= truth && truth <= result.players[i].top_speed_mps->hi ? 1 : 0;
  }
  EXPECT_GE(covered, 7);  // of 10 intervals of 90%, 7 or more with probability 0.987
  // What the ages leave open is not put down to the watch: its biases stay within an SD of what was thought of them.
  for (const jobs::SquadSummary::Shared& shared : result.squad->shared) {
    EXPECT_LT(std::fabs(shared.value.mean - shared.prior.mean), shared.prior.sd) << shared.kind << ' ' << shared.name;
  }
}

// The five lines that the command reads in tests/cli/cases/profile/one_answer.case, and what it prints of them.
TEST(Profile, LibraryAndCommandGiveOneAnswerUnasked) {
  const jobs::ProfileResult result =
      profile_of({.log = "# base-distance: 60 ft\ndate,player,course,timer,20m\n2026-04-11,12,straight,AK,4.05\n"
                         "2026-04-11,12,straight,AK,4.11\n2026-04-11,7,straight,AK,4.45\n",
                  .options = {}});
  ASSERT_TRUE(result.squad);
  // Identity: a model that gives anything is taken as it stands, by both.
  const jobs::ProfileResult fixed = profile_of({.log = "date,player,course,20m\n2026-04-11,12,straight,4.05\n",
                                                .model = "{\"error\": {\"effort_cv\": 0.02}}",
                                                .options = {}});
  EXPECT_FALSE(fixed.squad);
  char text[32];
  std::snprintf(text, sizeof text, "%.2f", result.players.at(1).top_speed_mps->median);
  EXPECT_STREQ(text, "6.59");
}

// Identity: what squad mates tell is not the child's own. A child with one time at 5 m and no age: among eight mates
// without ages, who told most of what is known of it, its own run tells no more than it does alone, where it tells of
// the age as well (measured: 43 % alone, 17 % among them; 81 % before the two were told apart).
TEST(Profile, WhatTheSquadToldIsNotTheChildsOwn) {
  const std::string head = "# device: gate\n# start: self\ndate,player,course,trial,5m,20m\n";
  const std::string own = "2026-04-11,99,straight,1,1.55,\n";
  std::string mates;
  for (int player = 1; player <= 8; ++player) {
    for (int trial = 1; trial <= 4; ++trial) {
      const double slower = 0.03 * player + 0.02 * (trial % 3);
      char row[80];
      std::snprintf(row, sizeof row, "2026-04-11,%d,straight,%d,%.2f,%.2f\n", player, trial, 1.45 + 0.3 * slower,
                    4.10 + slower);
      mates += row;
    }
  }
  const auto share = [](const jobs::ProfileResult& result) {
    for (const PlayerProfile& player : result.players) {
      if (player.player == "99") {
        return player.top_speed_mps.value().share_from_data.value();
      }
    }
    return -1.0;
  };
  const double alone = share(profile_of({.log = head + own}));
  const double among = share(profile_of({.log = head + own + mates, .options = {}}));
  EXPECT_GT(alone, 0.02);
  EXPECT_LT(alone, 0.5);
  EXPECT_GT(among, 0.02);
  EXPECT_LT(among, alone);
}

TEST(Profile, SaysWhenReactionHoldsTimerBias) {
  const std::string header = "# base-distance: 60 ft\ndate,player,course,start,first\n";
  const PlayerProfile call = profile_of({.log = header + "2026-04-11,12,home-first,signal,4.05\n"}).players.at(0);
  EXPECT_TRUE(call.reaction_holds_timer_bias);
  EXPECT_FALSE(call.notes.empty());
  const PlayerProfile both =
      profile_of({.log = header + "2026-04-11,12,home-first,signal,4.05\n2026-04-11,12,home-first,self,3.60\n"})
          .players.at(0);
  EXPECT_FALSE(both.reaction_holds_timer_bias);
  EXPECT_LT(both.reaction_s->sd, call.reaction_s->sd);
}

}  // namespace
