// What a squad's runs say of courses, jointly: each player's part against the profile, and what ties players together.
#include "bagsplit/inference/squad/squad_times.hpp"

#include <gtest/gtest.h>

#include <Eigen/Eigenvalues>
#include <algorithm>
#include <cmath>
#include <fstream>
#include <sstream>

#include "bagsplit/jobs/profile/profile.hpp"
#include "bagsplit/runs/files.hpp"
#include "bagsplit/runs/log/run_log.hpp"
#include "bagsplit/runs/roster/roster.hpp"

namespace {

using namespace bagsplit;
using Eigen::Index;

struct Demo {
  runs::RunLog log;
  runs::Roster roster;
};

Demo demo(const std::vector<std::string>& names = {BAGSPLIT_DATA_DIR "/demo"}) {
  text::Problems problems;
  const std::vector<runs::LoadedFile> files = runs::load_logs(names, nullptr, problems);
  std::ifstream in(BAGSPLIT_DATA_DIR "/demo/roster.csv");
  std::ostringstream roster;
  roster << in.rdbuf();
  return {runs::read_run_logs(runs::texts_of(files)).log, runs::read_roster(roster.str(), "roster.csv").roster};
}

inference::SquadTimesQuestion question(const Demo& demo, const char* course) {
  inference::SquadTimesQuestion q;
  const auto found = runs::find_course(demo.log.courses, course);
  q.courses = {{static_cast<std::uint16_t>(found - demo.log.courses.data()), 60 * 0.3048, 2 * 60 * 0.3048,
                runs::Posture::standing}};
  for (const runs::Player& player : demo.roster.players) {
    q.players.push_back(player.id);
  }
  q.age_at = runs::Date{std::chrono::year{2026} / 7 / 1};
  q.threads = 0;
  return q;
}

// Mean and variance of a component over the points of the design.
std::pair<double, double> of(const inference::SquadTimes& times, std::size_t player, std::size_t component) {
  double mean = 0.0;
  double square = 0.0;
  for (const inference::TimesPoint& point : times.points) {
    const inference::PlayerTimes& p = point.players[player];
    const auto at = static_cast<Index>(component);
    const double variance =
        p.own(at, at) + (p.loading.row(at) * point.shared_covariance * p.loading.row(at).transpose())(0, 0);
    mean += point.weight * p.mean(at);
    square += point.weight * (variance + p.mean(at) * p.mean(at));
  }
  return {mean, square - mean * mean};
}

// Each player's own part is what profile() says: the same model by another way through the code.
void expect_the_profiles(const Demo& d, const inference::SquadTimesQuestion& asked) {
  const inference::SquadTimes times = inference::squad_times(d.log, d.roster, timing::DeviceBook(), asked);
  jobs::ProfileOptions options;
  options.squad = true;
  options.threads = 0;
  const norms::Catalogue references = norms::Catalogue::builtin();
  const jobs::ProfileResult profile = jobs::profile(d.log, d.roster, timing::DeviceBook(), references, options);
  std::size_t compared = 0;
  for (const jobs::PlayerProfile& player : profile.players) {
    const auto at = static_cast<std::size_t>(std::find_if(times.players.begin(), times.players.end(),
                                                          [&](const auto& p) { return p.player == player.player; }) -
                                             times.players.begin());
    ASSERT_LT(at, times.players.size());
    EXPECT_EQ(times.players[at].runs, player.runs_used);
    const auto [reaction, reaction_variance] = of(times, at, times.index.reaction());
    EXPECT_NEAR(reaction, player.reaction_s->mean, 1e-4) << player.player;
    EXPECT_NEAR(std::sqrt(reaction_variance), player.reaction_s->sd, 1e-4) << player.player;
    for (const jobs::NamedEstimate& course : player.course_time_s) {
      if (course.name == "home-second") {
        ++compared;
        EXPECT_TRUE(times.players[at].course_run[0]);
        const auto [moving, variance] = of(times, at, times.index.moving(0));
        EXPECT_NEAR(moving, course.value.mean, 1e-3) << player.player;
        EXPECT_NEAR(std::sqrt(variance), course.value.sd, 1e-3) << player.player;
      }
    }
  }
  EXPECT_GE(compared, 10U);
}

// Within four weeks: over more a profile is of one day.
const std::vector<std::string> four_weeks{
    BAGSPLIT_DATA_DIR "/demo/2026-04-21.csv", BAGSPLIT_DATA_DIR "/demo/2026-04-28.csv",
    BAGSPLIT_DATA_DIR "/demo/2026-05-12.csv", BAGSPLIT_DATA_DIR "/demo/2026-05-19.csv"};

// Identity: the same model by another way through the code; the tolerances are those of two lattices.
TEST(SquadTimes, EachPlayersPartIsTheProfiles) {
  const Demo d = demo(four_weeks);
  expect_the_profiles(d, question(d, "home-second"));
}

// Identity: as above. Without ages players are taken as of like ages, here as there.
TEST(SquadTimes, EachPlayersPartIsTheProfilesWithoutAges) {
  Demo d = demo(four_weeks);
  const inference::SquadTimesQuestion asked = question(d, "home-second");
  d.roster = {};
  expect_the_profiles(d, asked);
}

// Identity: a covariance has no negative eigenvalue; and where hand watches on a call are all there is, the timer's
// bias is one for all, so two reactions differ by less than they would apart.
TEST(SquadTimes, WhatAllShareTiesThemTogether) {
  std::ostringstream log;
  log << "# base-distance: 60 ft\n# start: signal\ndate,player,course,timer,second\n";
  for (int p = 1; p <= 8; ++p) {
    for (int r = 0; r < 3; ++r) {
      log << "2026-05-0" << r + 1 << ',' << p << ",home-second,AK," << 8.0 + 0.1 * p + 0.03 * r << '\n';
    }
  }
  Demo d{runs::read_run_log(log.str(), "log.csv").log, {}};
  inference::SquadTimesQuestion q = question(d, "home-second");
  q.players = {"1", "2", "9"};  // 9 has no run
  q.clocks = {{runs::Device::stopwatch, runs::StartKind::signal, 0}};
  for (runs::NameId k = 0; k < d.log.names.size(); ++k) {
    q.clocks[0].timer = d.log.names[k] == "AK" ? k : q.clocks[0].timer;
  }
  const inference::SquadTimes times = inference::squad_times(d.log, d.roster, timing::DeviceBook(), q);
  EXPECT_FALSE(times.players[2].course_run[0]);
  for (std::size_t p = 0; p < times.points.size(); ++p) {
    for (const inference::PlayerTimes& player : times.points[p].players) {
      EXPECT_GT(Eigen::SelfAdjointEigenSolver<Eigen::MatrixXd>(player.own).eigenvalues().minCoeff(), -1e-6);
    }
    inference::TimesWorld world(times, p);
    const std::size_t reaction = times.index.reaction();
    const stats::JointNormal joint =
        world.factors().joint(std::vector{world.component(0, reaction), world.component(1, reaction), world.bias(0)});
    EXPECT_GT(joint.covariance(0, 1), 0.15 * joint.covariance(0, 0));
    EXPECT_LT(joint.covariance(0, 2), -0.02 * joint.covariance(0, 0));  // quick children or a late thumb
    // Reaction and bias together are what was read: much better known than either.
    stats::LinearQuantity read = world.component(0, reaction);
    read.add(world.bias(0)).add(world.component(0, times.index.moving(0)));
    const double sd = std::sqrt(world.factors().joint(std::vector{read}).covariance(0, 0));
    EXPECT_LT(sd, 0.15);
  }
}

}  // namespace
