// What players share, learnt from all of them.
#include "bagsplit/inference/squad/squad.hpp"

#include <gtest/gtest.h>

#include <Eigen/Dense>
#include <algorithm>
#include <boost/random/mersenne_twister.hpp>
#include <boost/random/normal_distribution.hpp>
#include <cmath>
#include <functional>
#include <numbers>
#include <vector>

#include "bagsplit/inference/prior/prior.hpp"
#include "bagsplit/inference/squad/squad_model.hpp"
#include "support/digits.hpp"

namespace {

using namespace bagsplit::motion;
using namespace bagsplit::inference;

constexpr double first_m = 18.288;
constexpr SquadScalePriors fixed_scales{
    {std::log(0.02), 0.0}, {std::log(0.015), 0.0}, {std::log(0.06), 0.0}, {0.0, 0.0}};

// Shared: 0 reaction, 1 bias. Terms of a member: reaction (own SD 0.07), bias (no own part).
SquadMember member_with(const std::vector<std::vector<double>>& nights, Normal log_v, Normal log_tau) {
  SquadMember member;
  member.data.log_top_speed = log_v;
  member.data.log_time_constant = log_tau;
  member.data.terms = {{0.3, 0.07}, {0.0, 0.0}};
  member.shared_of_term = {0, 1};
  for (std::uint32_t day = 0; day < nights.size(); ++day) {
    for (const double time : nights[day]) {
      member.data.add_run(day);
      const MarkData mark{first_m, time, 0.07, 0b11};
      member.data.add_reading(true, 0.0, 0.05, std::span(&mark, 1));
      member.hand.push_back(1);
    }
  }
  return member;
}

// Identity: with V and tau known everything is linear, so the shared posterior and the evidence are those of one dense
// normal over all readings of all players.
TEST(Squad, WithKnownSprintsItIsOneDenseNormal) {
  const std::vector<std::vector<std::vector<double>>> times = {
      {{3.95, 4.01}, {4.10}}, {{4.22}}, {{3.70, 3.81, 3.77}}, {{4.4}, {4.35, 4.5}}};
  const double speeds[] = {6.2, 5.9, 6.6, 5.6};
  std::vector<SquadMember> members;
  for (std::size_t i = 0; i < times.size(); ++i) {
    members.push_back(member_with(times[i], {std::log(speeds[i]), 0.0}, {std::log(0.9), 0.0}));
  }
  const std::vector<Normal> shared = {{0.02, 0.05}, {-0.15, 0.16}};
  const SquadFit fit = fit_squad(members, shared, fixed_scales);
  ASSERT_EQ(fit.points.size(), 1U);

  std::vector<double> y;
  std::vector<std::array<int, 2>> owner;  // player, day
  std::vector<double> t;
  for (std::size_t i = 0; i < times.size(); ++i) {
    for (std::size_t day = 0; day < times[i].size(); ++day) {
      for (const double time : times[i][day]) {
        const double moving = time_to_distance({speeds[i], 0.9}, first_m);
        t.push_back(moving);
        y.push_back(time - moving - 0.3 - 0.02 + 0.15);
        owner.push_back({static_cast<int>(i), static_cast<int>(day)});
      }
    }
  }
  const auto n = static_cast<Eigen::Index>(y.size());
  Eigen::MatrixXd c(n, n);
  for (Eigen::Index a = 0; a < n; ++a) {
    for (Eigen::Index b = 0; b < n; ++b) {
      const auto& oa = owner[static_cast<std::size_t>(a)];
      const auto& ob = owner[static_cast<std::size_t>(b)];
      const double tt = t[static_cast<std::size_t>(a)] * t[static_cast<std::size_t>(b)];
      c(a, b) = 0.05 * 0.05 + 0.16 * 0.16 + (oa[0] == ob[0] ? 0.07 * 0.07 : 0.0) +
                (oa == ob ? 0.015 * 0.015 * tt : 0.0) +
                (a == b ? 0.02 * 0.02 * tt + 0.06 * 0.06 + 0.05 * 0.05 + 0.07 * 0.07 : 0.0);
    }
  }
  const Eigen::Map<const Eigen::VectorXd> residual(y.data(), n);
  const Eigen::LLT<Eigen::MatrixXd> factor(c);
  const Eigen::VectorXd solved = factor.solve(residual);
  const double log_evidence =
      -0.5 * (residual.dot(solved) + static_cast<double>(n) * std::log(2.0 * std::numbers::pi)) -
      Eigen::MatrixXd(factor.matrixL()).diagonal().array().log().sum();
  const double sum = solved.sum();
  const double total = factor.solve(Eigen::VectorXd::Ones(n)).sum();
  EXPECT_DIGITS(fit.points[0].mean(0), 0.02 + 0.05 * 0.05 * sum, 6);
  EXPECT_DIGITS(fit.points[0].mean(1), -0.15 + 0.16 * 0.16 * sum, 6);
  EXPECT_DIGITS(fit.points[0].covariance(0, 0), 0.05 * 0.05 - std::pow(0.05, 4) * total, 6);
  EXPECT_DIGITS(fit.points[0].covariance(0, 1), -std::pow(0.05 * 0.16, 2) * total, 6);
  EXPECT_NEAR(fit.log_evidence, log_evidence, 1e-4);

  // A player's own reaction then has the mean and SD that the dense normal gives it.
  Eigen::VectorXd with_reaction = Eigen::VectorXd::Constant(n, 0.05 * 0.05);
  for (Eigen::Index a = 0; a < n; ++a) {
    with_reaction(a) += owner[static_cast<std::size_t>(a)][0] == 2 ? 0.07 * 0.07 : 0.0;
  }
  const Posterior posterior(member_data(fit, fit.points[0], members[2], 2));
  const std::uint32_t reaction = 0;
  const Estimate estimate = posterior.of_terms(std::span(&reaction, 1), 0.9);
  EXPECT_DIGITS(estimate.mean, 0.32 + with_reaction.dot(solved), 5);
  EXPECT_DIGITS(estimate.sd * estimate.sd, 0.05 * 0.05 + 0.07 * 0.07 - with_reaction.dot(factor.solve(with_reaction)),
                4);
}

struct World {
  std::vector<SquadMember> members;
  std::vector<double> log_v;
};

// A squad drawn from the model: scales as given, `offset` on log V, one night of `runs` home-to-first runs by one
// watch.
World squad_of(int players, int runs, const SquadScales& scales, double offset, double bias, std::uint64_t seed) {
  boost::random::mt19937_64 engine(seed);
  boost::random::normal_distribution<double> normal;
  const auto draw = [&](double mean, double sd) { return mean + sd * normal(engine); };
  World world;
  for (int i = 0; i < players; ++i) {
    const double log_v = draw(std::log(6.0) + offset, 0.08);
    const double log_tau = draw(std::log(0.9), 0.15);
    const double reaction = draw(0.3, 0.07);
    std::vector<std::vector<double>> nights(2);
    for (auto& night : nights) {
      const double form = draw(0.0, scales.day_cv);
      for (int r = 0; r < runs; ++r) {
        const double t = time_to_distance({std::exp(log_v), std::exp(log_tau)}, first_m);
        night.push_back(t * (1.0 + form + draw(0.0, scales.effort_cv)) + reaction + bias +
                        draw(0.0, scales.reaction_sd_s) + scales.press_factor * draw(0.0, std::hypot(0.05, 0.07)));
      }
    }
    SquadMember member = member_with(nights, {std::log(6.0), 0.08}, {std::log(0.9), 0.15});
    member.shared_log_top_speed = 2;
    world.members.push_back(member);
    world.log_v.push_back(log_v);
  }
  return world;
}

// Identity: a large squad's scatter and offset are found again. Four standard errors of what the fit itself says.
TEST(Squad, ALargeSquadTellsItsScalesAndItsOffset) {
  const SquadScales truth{0.03, 0.02, 0.06, 1.0};
  const World world = squad_of(150, 6, truth, -0.10, -0.1, 7);
  const std::vector<Normal> shared = {{0.0, 0.05}, {-0.15, 0.05}, {0.0, 0.08}};
  const SquadScalePriors priors{{std::log(0.02), 0.5}, {std::log(0.015), 0.5}, {std::log(0.06), 0.0}, {0.0, 0.0}};
  const SquadFit fit = fit_squad(world.members, shared, priors);
  EXPECT_TRUE(fit.converged);
  EXPECT_NEAR(fit.log_effort_cv.mean, std::log(0.03), 4.0 * fit.log_effort_cv.sd);
  EXPECT_LT(fit.log_effort_cv.sd, 0.1);
  EXPECT_NEAR(fit.log_day_cv.mean, std::log(0.02), 4.0 * fit.log_day_cv.sd);
  const Normal offset = fit.shared(2);
  EXPECT_NEAR(offset.mean, -0.10, 4.0 * offset.sd);
  EXPECT_LT(offset.sd, 0.03);
}

// Identity: the answer is the same whatever the number of threads.
TEST(Squad, ThreadsDoNotShow) {
  const World world = squad_of(20, 3, {0.02, 0.015, 0.06, 1.0}, 0.0, -0.1, 11);
  const std::vector<Normal> shared = {{0.0, 0.05}, {-0.15, 0.1}, {0.0, 0.08}};
  const SquadScalePriors priors{{std::log(0.02), 0.5}, {std::log(0.015), 0.5}, {std::log(0.06), 0.3}, {0.0, 0.3}};
  const SquadFit one = fit_squad(world.members, shared, priors, {.threads = 1});
  const SquadFit two = fit_squad(world.members, shared, priors, {.threads = 2});
  ASSERT_EQ(one.points.size(), two.points.size());
  EXPECT_GT(one.points.size(), 1U);
  for (std::size_t i = 0; i < one.points.size(); ++i) {
    EXPECT_EQ(one.points[i].weight, two.points[i].weight);
    EXPECT_EQ(one.points[i].mean, two.points[i].mean);
  }
}

// A squad of one shared quantity, the offset of log V, prior N(0, 0.05^2), and of members whose sprint is otherwise
// known but for N(0, 0.02^2). A member's one reading says of x = log V - log 6 what it is told to: its likelihood is
// exp(-h(x)) but for a factor. That is done by a term whose mean given the sprint leaves sqrt(2 h) SDs of the reading
// unexplained.
struct Told {
  static constexpr double shared_sd = 0.05;
  static constexpr double own_sd = 0.02;
  static constexpr double reading_sd_s = 0.1;

  std::vector<SquadMember> members;
  std::vector<TermMeans> means;

  void add(const std::function<double(double)>& h) {
    SquadMember member;
    member.data.log_top_speed = {std::log(6.0), own_sd};
    member.data.log_time_constant = {std::log(0.9), 0.0};
    member.data.terms = {{0.0, 1e-6}};
    member.shared_log_top_speed = 0;
    member.shared_of_term = {not_shared};
    member.data.add_run(0);
    const MarkData mark{first_m, 4.0, reading_sd_s, 0b1};
    member.data.add_reading(false, 0.0, 0.0, std::span(&mark, 1));
    member.hand.push_back(0);
    members.push_back(member);
    means.push_back([h](const Sprint& sprint, std::span<double> terms) {
      terms[0] = 4.0 - time_to_distance(sprint, first_m) -
                 reading_sd_s * std::sqrt(2.0 * h(std::log(sprint.top_speed_mps) - std::log(6.0)));
    });
  }

  SquadFit fit() const {
    const std::vector<Normal> shared = {{0.0, shared_sd}};
    constexpr SquadScalePriors no_scatter{{-30.0, 0.0}, {-30.0, 0.0}, {-30.0, 0.0}, {0.0, 0.0}};
    return fit_squad(members, shared, no_scatter, {}, means);
  }
};

// What a reading says that takes back a share c of the prior's precision: x is then N(0, sd^2 / (1 - c)).
std::function<double(double)> taking_back(double c, double sd) {
  constexpr double most = 60.0;  // never reached where there is any mass
  return [=](double x) { return std::max(0.0, most - 0.5 * c * x * x / (sd * sd)); };
}

// Identity: with one member the evidence of the squad is that of the member under the prior of what is shared, whatever
// part of its message's way was gone: the integral of N(x; 0, s^2) exp(-60 + c x^2 / (2 s^2)) is exp(-60) / sqrt(1 -
// c).
TEST(Squad, EvidenceIsThatOfTheMessagesThatStand) {
  const double sd = std::hypot(Told::shared_sd, Told::own_sd);
  for (const double c :
       {0.5, 0.85, 0.9}) {  // the last two leave the offset wider than twice its prior: no part of the fit
    Told squad;
    squad.add(taking_back(c, sd));
    EXPECT_NEAR(squad.fit().log_evidence,
                -60.0 - 0.5 * std::log(1.0 - c) - std::log(Told::reading_sd_s * std::sqrt(2.0 * std::numbers::pi)),
                0.02)
        << c;
  }
}

// Identity: a message that only ever goes part of its way does not settle, however little the last part moved.
TEST(Squad, WhatNeverSettlesIsNotCalledConverged) {
  const double sd = std::hypot(Told::shared_sd, Told::own_sd);
  Told wide;
  wide.add(taking_back(0.85, sd));
  EXPECT_FALSE(wide.fit().converged);
  Told usual;
  usual.add(taking_back(0.5, sd));
  usual.add([](double x) { return 0.5 * (x - 0.03) * (x - 0.03) / (0.04 * 0.04); });
  EXPECT_TRUE(usual.fit().converged);
}

// Identity: a member whose posterior the lattice cannot hold (a spike of 0.0005 on a plateau exp(-4) as high, over
// which it would need thousands of nodes) tells the others nothing, so that these have what they have without it.
TEST(Squad, APosteriorThatIsCutTellsTheOthersNothing) {
  const auto quadratic = [](double middle, double sd) {
    return [=](double x) { return 0.5 * (x - middle) * (x - middle) / (sd * sd); };
  };
  Told others;
  others.add(quadratic(0.03, 0.04));
  others.add(quadratic(-0.03, 0.04));  // so that the search for the mode begins on the spike
  Told all = others;
  all.add([](double x) { return -4.0 * std::expm1(-0.125 * x * x / (0.0005 * 0.0005)); });
  const SquadFit with = all.fit();
  const SquadFit without = others.fit();
  EXPECT_NEAR(with.shared(0).mean, without.shared(0).mean, 1e-4 * without.shared(0).sd);
  EXPECT_DIGITS(with.shared(0).sd, without.shared(0).sd, 4);
  EXPECT_TRUE(without.converged);
  EXPECT_FALSE(with.converged);
}

// Identity: log tau = log V - log A. Before any run, log A of a member has the spread between children and the doubt of
// its level at the member's own age, and does not go with log V, of which all share the squad's offset; two members'
// log A go together by their levels alone.
TEST(Squad, TheLevelOfFirstAccelerationIsSharedByAgeAndApartFromTopSpeed) {
  const auto child = [](double age_yr) {
    SquadPlayer player;
    player.assembled.log_sprint = log_sprint(sprint_prior(age_yr, bagsplit::runs::Sex::male));
    set_sprint_prior(player.assembled.data, player.assembled.log_sprint, false);
    return player;
  };
  const SquadPlayer players[] = {child(9.0), child(15.0)};
  const SquadModel model = squad_structure(players, 1);
  const auto g = static_cast<Eigen::Index>(model.shared.size());
  Gaussian shared{Eigen::VectorXd::Zero(g), Eigen::MatrixXd::Zero(g, g)};
  for (Eigen::Index k = 0; k < g; ++k) {
    const double sd = model.shared[static_cast<std::size_t>(k)].prior.sd;
    shared.covariance(k, k) = sd * sd;
  }
  // Source: SDs of data/models/sprint-prior.json, boys of 9 and of 15.
  const double own_v[] = {0.082, 0.085};
  const double own_a[] = {0.20, 0.12};
  const double level_a[] = {0.15, 0.10};
  Eigen::MatrixXd ties[2];
  for (int i = 0; i < 2; ++i) {
    const SquadMember member = member_of(model, players[i].assembled, std::nullopt);
    const SharedLinks links(member, model.shared.size());
    const Eigen::MatrixXd c = prior_of(member, links, shared, {}).covariance;
    EXPECT_NEAR(std::sqrt(c(0, 0)), std::hypot(own_v[i], 0.08), 1e-3) << i;
    EXPECT_NEAR(std::sqrt(c(0, 0) + c(1, 1) - 2.0 * c(0, 1)), std::hypot(own_a[i], level_a[i]), 1e-3) << i;
    EXPECT_NEAR(c(0, 0) - c(0, 1), 0.0, 1e-12) << i;
    ties[i] = ties_of(links, shared);
  }
  const Eigen::VectorXd a9 = ties[0].col(0) - ties[0].col(1);
  const Eigen::VectorXd a15 = ties[1].col(0) - ties[1].col(1);
  EXPECT_NEAR(a9.dot(shared.covariance.inverse() * a15), level_a[0] * level_a[1], 1e-12);
}

// Identity: own losses are slope times own log V and a rest, and as wide as before; a slope bends over towards a
// correlation of 0.9, (x^-8 + most^-8)^(-1/8), and hardly bends before.
TEST(Squad, OwnLossesMayGoWithOwnSpeed) {
  SquadMember member;
  member.data.log_top_speed = {1.8, 0.08};
  member.data.log_time_constant = {-0.1, 0.2};
  member.data.log_correlation = 0.4;
  member.data.terms = {{0.3, 0.2}, {0.1, 0.1}, {0.35, 0.06}};
  member.shared_of_term = {not_shared, not_shared, not_shared};
  member.losses = {0, 1};
  const SharedLinks links(member, 0);
  const Gaussian none{Eigen::VectorXd(0), Eigen::MatrixXd(0, 0)};
  SquadScales scales{0.02, 0.015, 0.06, 1.0, 1.5};
  const Eigen::MatrixXd c = prior_of(member, links, none, scales).covariance;
  const auto bent = [](double most) { return std::pow(std::pow(1.5, -8.0) + std::pow(most, -8.0), -0.125); };
  const double first = bent(0.9 * 0.2 / 0.08);
  const double second = bent(0.9 * 0.1 / 0.08);
  EXPECT_NEAR(first, 1.5, 0.01);
  EXPECT_NEAR(second, 1.125, 0.02);
  EXPECT_DIGITS(c(2, 2), 0.04, 12.0);
  EXPECT_DIGITS(c(0, 2), first * 0.0064, 12.0);
  EXPECT_DIGITS(c(1, 2), first * 0.4 * 0.08 * 0.2, 12.0);
  EXPECT_DIGITS(c(0, 3), second * 0.0064, 12.0);
  EXPECT_DIGITS(c(2, 3), first * second * 0.0064, 12.0);
  EXPECT_EQ(c(0, 4), 0.0);
  EXPECT_EQ((c - c.transpose()).norm(), 0.0);
}

}  // namespace
