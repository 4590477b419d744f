// Priors that are not independent: what a squad's model hands to each of its players.
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <vector>

#include "bagsplit/inference/posterior/posterior.hpp"
#include "bagsplit/inference/squad/design.hpp"

namespace {

using namespace bagsplit::motion;
using namespace bagsplit::inference;

constexpr double first_m = 18.288;

// Two days: on each a signal start with a reading of one watch, and a self start. Times are made up.
PlayerData readings(PlayerData data, std::uint64_t signal_terms, std::uint64_t self_terms) {
  data.log_top_speed = {std::log(6.0), 0.09};
  data.log_time_constant = {std::log(0.9), 0.25};
  data.effort_cv = 0.02;
  data.day_cv = 0.015;
  data.reaction_sd_s = 0.06;
  const double wobble[] = {0.03, -0.05, 0.02, 0.04};
  for (std::uint32_t i = 0; i < 4; ++i) {
    data.add_run(1 + i / 2);
    if (i % 2 == 0) {
      const MarkData marks[] = {{first_m, 4.05 + wobble[i], 0.07, signal_terms},
                                {2 * first_m, 7.21 + wobble[3 - i], 0.07, signal_terms}};
      data.add_reading(true, 0.0, 0.05, marks);
    } else {
      const MarkData marks[] = {{10.0, 2.25 + wobble[i], 0.07, self_terms}, {30.0, 5.35, 0.07, self_terms}};
      data.add_reading(false, 0.0, 0.06, marks);
    }
  }
  return data;
}

Estimate top_speed(const Posterior& posterior) {
  std::vector<double> values;
  for (const Sprint& s : posterior.sprints()) {
    values.push_back(s.top_speed_mps);
  }
  return posterior.of_sprint(values, 0.9, std::nullopt);
}

void expect_same(const Estimate& a, const Estimate& b, double tolerance) {
  EXPECT_NEAR(a.mean, b.mean, tolerance * a.sd);
  EXPECT_NEAR(a.sd, b.sd, tolerance * a.sd);
  EXPECT_NEAR(a.lo, b.lo, tolerance * a.sd);
  EXPECT_NEAR(a.hi, b.hi, tolerance * a.sd);
}

// Identity: two biases that share a part, written as three independent terms or as two correlated ones.
TEST(JointPrior, CorrelatedTermsAreASharedPartAndTwoOwn) {
  PlayerData three;
  three.terms = {{0.3, 0.08}, {-0.1, 0.09}, {0.0, 0.04}, {0.0, 0.05}};  // reaction, shared, signal's own, self's own
  three = readings(three, 0b0111, 0b1010);
  PlayerData two;
  const double a = std::hypot(0.09, 0.04);
  const double b = std::hypot(0.09, 0.05);
  two.terms = {{0.3, 0.08}, {-0.1, a}, {-0.1, b}};
  const double rho = 0.09 * 0.09 / (a * b);
  two.term_correlation = {1, 0, 0, 0, 1, rho, 0, rho, 1};
  two = readings(two, 0b011, 0b100);
  const Posterior p(three);
  const Posterior q(two);
  EXPECT_NEAR(p.log_evidence(), q.log_evidence(), 1e-8);
  expect_same(top_speed(p), top_speed(q), 1e-6);
  const std::uint32_t reaction = 0;
  expect_same(p.of_terms(std::span(&reaction, 1), 0.9), q.of_terms(std::span(&reaction, 1), 0.9), 1e-6);
}

// Identity: a mean that moves with the sprint, given as slopes or as a function.
TEST(JointPrior, SlopesAreTermMeansThatMoveWithTheSprint) {
  PlayerData data;
  data.terms = {{0.3, 0.08}, {-0.1, 0.1}};
  data = readings(data, 0b11, 0b10);
  PlayerData sloped = data;
  sloped.term_slopes = {0.4, -0.1, 0.2, 0.05};
  const Posterior p(sloped);
  const Posterior q(data, [&](const Sprint& s, std::span<double> means) {
    const double v = std::log(s.top_speed_mps) - data.log_top_speed.mean;
    const double tau = std::log(s.time_constant_s) - data.log_time_constant.mean;
    means[0] += 0.4 * v - 0.1 * tau;
    means[1] += 0.2 * v + 0.05 * tau;
  });
  EXPECT_NEAR(p.log_evidence(), q.log_evidence(), 1e-8);
  expect_same(top_speed(p), top_speed(q), 1e-6);
}

// Identity: without readings the posterior is the prior, whose evidence is 1.
TEST(JointPrior, LogSpeedAndLogTimeConstantMayBeCorrelated) {
  PlayerData data;
  data.log_top_speed = {std::log(6.0), 0.09};
  data.log_time_constant = {std::log(0.9), 0.2};
  data.log_correlation = 0.6;
  const Posterior p(data);
  EXPECT_NEAR(p.log_evidence(), 0.0, 1e-4);
  double m[2] = {};
  double c[3] = {};
  for (std::size_t i = 0; i < p.size(); ++i) {
    const double x[2] = {std::log(p.sprints()[i].top_speed_mps), std::log(p.sprints()[i].time_constant_s)};
    m[0] += p.weights()[i] * x[0];
    m[1] += p.weights()[i] * x[1];
    c[0] += p.weights()[i] * x[0] * x[0];
    c[1] += p.weights()[i] * x[1] * x[1];
    c[2] += p.weights()[i] * x[0] * x[1];
  }
  const double sv = std::sqrt(c[0] - m[0] * m[0]);
  const double st = std::sqrt(c[1] - m[1] * m[1]);
  EXPECT_NEAR(m[0], data.log_top_speed.mean, 1e-4);
  EXPECT_NEAR(sv, 0.09, 1e-4);
  EXPECT_NEAR(st, 0.2, 2e-4);
  EXPECT_NEAR((c[2] - m[0] * m[1]) / (sv * st), 0.6, 1e-3);
}

// Identity: integrating the form of a day out at once, or as a term, is the same integral.
TEST(JointPrior, TheFormOfADayMayBeKeptAsATerm) {
  PlayerData data;
  data.terms = {{0.3, 0.08}, {-0.1, 0.1}};
  data = readings(data, 0b11, 0b10);
  PlayerData kept = data;
  kept.terms.push_back({0.0, data.day_cv});
  kept.day_term = 2;
  kept.day_term_day = 2;
  const Posterior p(data);
  const Posterior q(kept);
  EXPECT_NEAR(p.log_evidence(), q.log_evidence(), 1e-8);
  expect_same(top_speed(p), top_speed(q), 1e-6);
  const std::uint32_t form = 2;
  const Estimate day = q.of_terms(std::span(&form, 1), 0.9);
  EXPECT_LT(day.sd, 0.99 * data.day_cv);
  EXPECT_GT(day.sd, 0.3 * data.day_cv);
}

// Identity: the coarse lattice against the fine one.
TEST(JointPrior, ACoarseLatticeGivesEvidenceAndMomentsNearly) {
  PlayerData data;
  data.terms = {{0.3, 0.08}, {-0.1, 0.1}};
  data = readings(data, 0b11, 0b10);
  const Posterior fine(data);
  const Posterior coarse(data, {}, {.coarse = true, .near = Sprint{6.4, 1.0}});
  EXPECT_LT(coarse.size(), 3 * fine.size() / 4);
  EXPECT_NEAR(coarse.log_evidence(), fine.log_evidence(), 5e-3);
  const auto moments = [](const Posterior& p) {
    double m = 0.0;
    double s = 0.0;
    for (std::size_t i = 0; i < p.size(); ++i) {
      m += p.weights()[i] * p.sprints()[i].top_speed_mps;
    }
    for (std::size_t i = 0; i < p.size(); ++i) {
      s += p.weights()[i] * (p.sprints()[i].top_speed_mps - m) * (p.sprints()[i].top_speed_mps - m);
    }
    return std::pair{m, std::sqrt(s)};
  };
  const auto [m1, s1] = moments(fine);
  const auto [m2, s2] = moments(coarse);
  EXPECT_NEAR(m2, m1, 0.02 * s1);
  EXPECT_NEAR(s2, s1, 0.02 * s1);
}

// Identity: a term no reading depends on is one that a reading too vague to say anything depends on: the same
// covariance, for what a run that first touches it would tell.
TEST(JointPrior, ATermNoReadingTouchesIsLinearisedAsOneAVagueReadingTouches) {
  PlayerData data;
  data.terms = {{0.3, 0.08}, {-0.1, 0.1}, {0.5, 0.12}};
  data = readings(data, 0b11, 0b10);
  data.term_slopes = {0.4, -0.1, 0.2, 0.05, -1.5, 0.3};
  data.term_correlation = {1, 0.2, 0.1, 0.2, 1, 0.7, 0.1, 0.7, 1};
  const TermMeans moving = [](const Sprint& s, std::span<double> means) {
    means[1] += 0.3 * std::log(s.top_speed_mps / 6.0);
    means[2] -= 0.8 * std::log(s.top_speed_mps / 6.0);
  };
  PlayerData touched = data;
  touched.add_run(3);
  const MarkData vague{20.0, 4.0, 1e4, 0b100};
  touched.add_reading(false, 0.0, 0.06, std::span(&vague, 1));
  const Posterior p(data, moving);
  const Posterior q(touched, moving);
  ASSERT_FALSE(p.is_active(2));
  ASSERT_TRUE(q.is_active(2));
  const Linearised a = linearise(p, moving);
  const Linearised b = linearise(q, moving);
  constexpr std::size_t n = 5;
  for (std::size_t i = 0; i < n; ++i) {
    for (std::size_t j = 0; j < n; ++j) {
      const double scale = std::sqrt(b.covariance[i * n + i] * b.covariance[j * n + j]);
      EXPECT_NEAR(a.covariance[i * n + j], b.covariance[i * n + j], 1e-4 * scale) << i << ' ' << j;
    }
  }
  EXPECT_GT(std::fabs(b.covariance[4]), 0.3 * std::sqrt(b.covariance[0] * b.covariance[4 * n + 4]));  // tied to log V
  CandidateRun candidate;
  candidate.marks = {{30.0, 0.0, 0.05, 0b100}};
  const std::vector<double> after_a = covariance_after(p, a, candidate, 2);
  const std::vector<double> after_b = covariance_after(q, b, candidate, 2);
  EXPECT_NEAR(std::sqrt(after_a[0]), std::sqrt(after_b[0]), 1e-4 * std::sqrt(after_b[0]));
}

}  // namespace
