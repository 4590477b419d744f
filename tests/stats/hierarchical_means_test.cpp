#include "bagsplit/stats/hierarchical_means.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <stdexcept>
#include <vector>

#include "bagsplit/stats/random.hpp"
#include "reference.hpp"
#include "support/digits.hpp"

namespace {

using namespace bagsplit::stats;
using bagsplit::test::Reference;

const std::vector<double> schools{28, 8, -3, 7, -1, 1, 18, 12};

std::vector<double> variances() {
  std::vector<double> v;
  for (const double se : {15, 10, 16, 11, 9, 11, 10, 18}) v.push_back(se * se);
  return v;
}

// Computed: R 4.2.2 integrate(), reference/hierarchical_means/compute.R.
TEST(HierarchicalMeans, EightSchools) {
  const Reference r("hierarchical_means");
  for (const auto& [name, scale] :
       {std::pair<std::string, std::optional<double>>{"half_normal_10", 10.0}, {"flat", std::nullopt}}) {
    const auto h = *hierarchical_means(schools, variances(), scale);
    std::vector<double> mean, sd, lo, hi, below;
    for (const auto& t : h.theta) {
      mean.push_back(t.mean());
      sd.push_back(t.sd());
      lo.push_back(t.quantile(0.05));
      hi.push_back(t.quantile(0.95));
      below.push_back(t.below(0.0));
    }
    EXPECT_REFERENCE(r, name + "_mean", mean);
    EXPECT_REFERENCE(r, name + "_sd", sd);
    EXPECT_REFERENCE(r, name + "_lo90", lo);
    EXPECT_REFERENCE(r, name + "_hi90", hi);
    EXPECT_REFERENCE(r, name + "_below_0", below);
    EXPECT_REFERENCE(r, name + "_tau_mean", *h.tau_mean);
  }
}

// From memory, unverified: medians of Gelman et al. (1995), Bayesian Data Analysis, table 5.3, from 200 draws (hence
// the wide tolerance).
TEST(HierarchicalMeans, EightSchoolsAsPrinted) {
  const auto h = *hierarchical_means(schools, variances(), std::nullopt);
  const std::vector<double> printed{10, 8, 7, 8, 5, 6, 10, 8};
  for (std::size_t i = 0; i < 8; ++i) EXPECT_NEAR(h.theta[i].quantile(0.5), printed[i], 1.0) << i;
}

// Identity: one mean with a flat mu is itself; equal variances and a far prior leave means alone; shift and unit.
TEST(HierarchicalMeans, Limits) {
  const std::vector<double> one{-0.07}, v{0.0025};
  const auto h = *hierarchical_means(one, v, 0.1);
  EXPECT_NEAR(h.theta[0].mean(), -0.07, 1e-12);
  EXPECT_NEAR(h.theta[0].sd(), 0.05, 1e-12);
  EXPECT_FALSE(hierarchical_means(one, v, std::nullopt));
  EXPECT_FALSE(hierarchical_means({}, {}, 0.1));
  auto moved = schools;
  auto wider = variances();
  for (double& y : moved) y = 0.01 * y + 3.0;
  for (double& w : wider) w *= 1e-4;
  const auto a = *hierarchical_means(schools, variances(), 10.0);
  const auto b = *hierarchical_means(moved, wider, 0.1);
  EXPECT_DIGITS(b.theta[0].mean() - 3.0, 0.01 * a.theta[0].mean(), 8);
  EXPECT_DIGITS(b.next.sd(), 0.01 * a.next.sd(), 8);
  EXPECT_DIGITS(a.theta[0].widened(5.0).sd(), std::hypot(a.theta[0].sd(), 5.0), 9);
  EXPECT_DIGITS(a.mu.below(a.mu.quantile(0.3)), 0.3, 9);
  EXPECT_GT(a.next.sd(), a.mu.sd());
}

// Identity: one mean tells nothing of tau, so it keeps its half-normal prior: mean sqrt(2 / pi), variance 1 - 2 / pi,
// however well the mean is known. With a flat prior tau's posterior falls as tau^(1 - k), so few means leave it without
// moments.
TEST(HierarchicalMeans, TauKeepsItsPriorAndHasOnlyMomentsThatExist) {
  const std::vector<double> one{3.0}, precise{1e-8};
  const auto h = *hierarchical_means(one, precise, 1.0);
  EXPECT_NEAR(*h.tau_mean, 0.797884560803, 1e-5);
  EXPECT_NEAR(*h.tau_sd, 0.602810274989, 1e-5);
  EXPECT_NEAR(h.next.sd(), std::sqrt(2.0), 1e-4);  // mu is tau off what was seen, the next member another tau
  const std::vector<double> y{3.0, 3.1, 3.2, 3.0, 3.1}, v(5, 0.01);
  const auto of = [&](std::size_t k) {
    return *hierarchical_means(std::span(y).first(k), std::span(v).first(k), std::nullopt);
  };
  EXPECT_FALSE(of(3).tau_mean || of(3).tau_sd);
  EXPECT_TRUE(of(4).tau_mean && !of(4).tau_sd);
  EXPECT_TRUE(of(5).tau_mean && of(5).tau_sd);
}

// Identity: where tau comes from its prior, 90% intervals hold 90% of the thetas. 3,000 squads of 8; the error rate of
// the bound (4.5 standard errors of clustered counts) is below 1e-5.
TEST(HierarchicalMeans, Coverage) {
  RandomStream random(11);
  int inside = 0, all = 0;
  for (int s = 0; s < 3000; ++s) {
    const double tau = std::fabs(random.normal());
    std::vector<double> theta, y, v;
    for (int i = 0; i < 8; ++i) {
      theta.push_back(5.0 + tau * random.normal());
      v.push_back(0.3 + 0.2 * i);
      y.push_back(theta.back() + std::sqrt(v.back()) * random.normal());
    }
    const auto h = *hierarchical_means(y, v, 1.0);
    for (std::size_t i = 0; i < 8; i += 7) {
      ++all;
      inside += theta[i] > h.theta[i].quantile(0.05) && theta[i] < h.theta[i].quantile(0.95);
    }
  }
  EXPECT_NEAR(static_cast<double>(inside) / all, 0.9, 4.5 * std::sqrt(0.09 / 3000.0));
}

// Common practice, no source: programmer's errors throw.
TEST(HierarchicalMeans, RefusesBadCalls) {
  EXPECT_THROW(hierarchical_means(schools, std::vector<double>{1.0}, 1.0), std::invalid_argument);
  EXPECT_THROW(hierarchical_means(std::vector<double>{1.0}, std::vector<double>{0.0}, 1.0), std::domain_error);
  EXPECT_THROW(hierarchical_means(std::vector<double>{1.0}, std::vector<double>{1.0}, 0.0), std::domain_error);
}

}  // namespace
