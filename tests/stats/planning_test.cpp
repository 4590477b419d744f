#include "bagsplit/stats/planning.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <sstream>
#include <stdexcept>
#include <string>
#include <vector>

#include "bagsplit/stats/icc.hpp"
#include "bagsplit/stats/t_interval.hpp"
#include "reference.hpp"
#include "support/digits.hpp"

namespace {

using bagsplit::test::Reference;
namespace stats = bagsplit::stats;
using stats::Design;
using stats::Tails;

std::string text(double v) {
  std::ostringstream out;
  out << v;
  return out.str();
}

// Source: R help page of power.t.test; Cohen (1988), Table 2.4.1 (published_*).
// Computed: R 4.2.2, power.t.test and noncentral t; second program statsmodels 0.13.5; reference/planning/compute.R.
TEST(Planning, PowerOfTheTTest) {
  const Reference r("planning");
  EXPECT_REFERENCE(r, "published_power_n20_delta1_sd1",
                   stats::t_test_power(Design::two_sample, 20, 1, 1, 0.05, Tails::near));
  EXPECT_REFERENCE(r, "power_n20_delta1_sd1_one_tail_part",
                   stats::t_test_power(Design::two_sample, 20, 1, 1, 0.05, Tails::near));
  EXPECT_REFERENCE(r, "power_n20_delta1_sd1_strict", stats::t_test_power(Design::two_sample, 20, -1, 1));
  EXPECT_REFERENCE(r, "published_n_power0.90_delta1_sd1",
                   *stats::t_test_fractional_size(Design::two_sample, 1, 1, 0.9, 0.05, Tails::near));
  for (const double d : {0.2, 0.5, 0.8}) {
    EXPECT_REFERENCE(r, "published_n_two_sample_d" + text(d) + "_power0.8",
                     static_cast<double>(*stats::t_test_sample_size(Design::two_sample, d, 1, 0.8)));
  }
  struct Case {
    std::string prefix;
    double delta, sd, power;
  };
  std::vector<Case> cases;
  for (const double delta : {0.1, 0.2})
    for (const double sd : {0.15, 0.3})
      for (const double power : {0.8, 0.9}) cases.push_back({"sprint_s", delta, sd, power});
  for (const double delta : {0.2, 0.5, 0.8}) cases.push_back({"cohen", delta, 1.0, 0.8});
  for (const auto& c : cases) {
    const std::string name = c.prefix + "_delta" + text(c.delta) + "_sd" + text(c.sd) + "_power" + text(c.power);
    const auto n = *stats::t_test_sample_size(Design::two_sample, c.delta, c.sd, c.power);
    const auto pairs = *stats::t_test_sample_size(Design::paired, c.delta, c.sd, c.power);
    EXPECT_REFERENCE(r, name + "_two_sample_n_per_group_fractional",
                     *stats::t_test_fractional_size(Design::two_sample, c.delta, c.sd, c.power));
    EXPECT_REFERENCE(r, name + "_two_sample_n_per_group", static_cast<double>(n));
    EXPECT_REFERENCE(r, name + "_two_sample_power_at_n",
                     stats::t_test_power(Design::two_sample, static_cast<double>(n), c.delta, c.sd));
    EXPECT_REFERENCE(r, name + "_paired_n", static_cast<double>(pairs));
    EXPECT_REFERENCE(r, name + "_paired_power_at_n",
                     stats::t_test_power(Design::paired, static_cast<double>(pairs), c.delta, c.sd));
  }
}

// Source: Spearman (1910) and Brown (1910), Br J Psychol 3 (formula).
// Computed: R 4.2.2, reference/planning/compute.R.
TEST(Planning, TrialsForReliabilityAndChange) {
  const Reference r("planning");
  for (const double icc : {0.3, 0.5, 0.7, 0.85}) {
    for (const double target : {0.8, 0.9, 0.95}) {
      const std::string name = "rel_icc" + text(icc) + "_target" + text(target);
      const double trials = stats::trials_for_icc(icc, target);
      const double whole = static_cast<double>(stats::whole_trials(trials));
      EXPECT_REFERENCE(r, name + "_trials", trials);
      EXPECT_REFERENCE(r, name + "_trials_ceiling", whole);
      EXPECT_REFERENCE(r, name + "_icc_of_mean_at_ceiling", stats::icc_of_mean(icc, whole));
      // Identity: the fractional number gives the target exactly.
      EXPECT_DIGITS(stats::icc_of_mean(icc, trials), target, 13);
    }
  }
  for (const double sem : {0.05, 0.08, 0.12}) {
    for (const double mdc : {0.1, 0.2}) {
      const std::string name = "mdc_s_sem" + text(sem) + "_mdc" + text(mdc);
      const double trials = stats::trials_for_detectable_change(sem, mdc);
      EXPECT_REFERENCE(r, name + "_trials_per_session", trials);
      EXPECT_REFERENCE(r, name + "_trials_ceiling", static_cast<double>(stats::whole_trials(trials)));
      // Identity: averaging that many brings the minimal detectable change to what was asked.
      EXPECT_DIGITS(stats::minimal_detectable_change(sem / std::sqrt(trials)), mdc, 13);
    }
  }
}

// Computed: R 4.2.2, qt, reference/planning/compute.R.
TEST(Planning, RunsForAPrecision) {
  const Reference r("planning");
  for (const double h : {0.1, 0.05, 0.03}) {
    const std::string name = "prec_s_sd0.12_halfwidth" + text(h);
    const auto n = *stats::size_for_half_width(h, 0.12);
    EXPECT_REFERENCE(r, name + "_n", static_cast<double>(n));
    EXPECT_REFERENCE(r, name + "_achieved", stats::t_half_width(n, 0.12));
    EXPECT_GT(stats::t_half_width(n - 1, 0.12), h);
  }
  // Identity: the half-width is that of the one-sample t interval.
  const auto t = *stats::one_sample_t(std::vector<double>{0.0, 1.0, 2.0}, 0.9);
  EXPECT_DIGITS(stats::t_half_width(3, 1.0, 0.9), t.interval.half_width(), 13);
}

// Identity: no difference is found at the rate alpha; power rises with n and delta, and does not know the sign or the
// unit.
TEST(Planning, PowerIdentities) {
  EXPECT_DIGITS(stats::t_test_power(Design::paired, 7, 0.0, 1.0), 0.05, 10);
  EXPECT_DIGITS(stats::t_test_power(Design::two_sample, 7, 0.0, 1.0, 0.1), 0.1, 10);
  double before = 0.0;
  for (double n = 2; n < 40; n += 3) {
    const double now = stats::t_test_power(Design::two_sample, n, 0.4, 0.5);
    EXPECT_GT(now, before);
    before = now;
  }
  EXPECT_DIGITS(stats::t_test_power(Design::paired, 9, 0.1, 0.15), stats::t_test_power(Design::paired, 9, -100, 150),
                12);
  EXPECT_EQ(stats::t_test_power(Design::paired, 100, 50.0, 1.0), 1.0);
  EXPECT_FALSE(stats::t_test_sample_size(Design::paired, 0.0, 1.0, 0.8));
  EXPECT_FALSE(stats::size_for_half_width(1e-9, 1.0));
  const double of_many = stats::t_half_width(700'000, 1.0);
  EXPECT_EQ(stats::size_for_half_width(of_many * (1.0 + 1e-9), 1.0), 700'000u);  // sizes up to a million are found
  EXPECT_EQ(*stats::t_test_sample_size(Design::paired, 100.0, 1.0, 0.8), 2u);
}

// Common practice, no source: programmer's errors throw.
TEST(Planning, RefusesBadCalls) {
  EXPECT_THROW(stats::t_test_power(Design::paired, 1, 1, 1), std::domain_error);
  EXPECT_THROW(stats::t_test_power(Design::paired, 5, 1, 0), std::domain_error);
  EXPECT_THROW(stats::t_half_width(1, 1.0), std::domain_error);
  EXPECT_THROW(stats::trials_for_icc(1.0, 0.9), std::domain_error);
  EXPECT_THROW(stats::trials_for_detectable_change(0.1, 0.0), std::domain_error);
}

}  // namespace
