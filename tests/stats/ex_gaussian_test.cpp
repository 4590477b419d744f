#include "bagsplit/stats/ex_gaussian.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <stdexcept>
#include <vector>

#include "bagsplit/stats/distributions.hpp"
#include "bagsplit/stats/random.hpp"
#include "bagsplit/stats/univariate.hpp"
#include "reference.hpp"
#include "support/digits.hpp"

namespace {

using bagsplit::stats::ex_gaussian_cdf;
using bagsplit::stats::ex_gaussian_log_density;
using bagsplit::stats::ExGaussian;
using bagsplit::stats::fit_ex_gaussian;
using bagsplit::stats::FitStatus;
using bagsplit::test::Reference;
using bagsplit::test::Table;

std::vector<double> list(const ExGaussian& p) {
  return {p.mu, p.sigma, p.tau};
}

std::vector<double> draws(std::size_t n, const ExGaussian& p, std::uint64_t seed) {
  bagsplit::stats::RandomStream random(seed);
  std::vector<double> x(n);
  for (double& v : x) v = p.mu + p.sigma * random.normal() + p.tau * random.exponential();
  return x;
}

// Computed: R 4.2.2, numerical convolution and optim, reference/ex_gaussian/compute.R (invented times).
TEST(ExGaussian, AgreesWithAnotherProgram) {
  const Reference r("ex_gaussian");
  const ExGaussian p{0.2, 0.05, 0.1};
  std::vector<double> density, cdf;
  for (const double x : {0.1, 0.2, 0.3, 0.6}) {
    density.push_back(std::exp(ex_gaussian_log_density(x, p)));
    cdf.push_back(ex_gaussian_cdf(x, p));
  }
  EXPECT_REFERENCE(r, "density_by_convolution_mu0.2_sigma0.05_tau0.1_at_0.1_0.2_0.3_0.6", density);
  EXPECT_REFERENCE(r, "cdf_by_integration_same_at_0.1_0.2_0.3_0.6", cdf);
  const auto fit = fit_ex_gaussian(Table("ex_gaussian/data.csv").numbers("reaction_s"));
  ASSERT_EQ(fit.status, FitStatus::converged) << fit.message;
  EXPECT_REFERENCE(r, "mu_sigma_tau", list(fit.parameters));
  EXPECT_REFERENCE(r, "se_mu_sigma_tau", list(*fit.se));
  EXPECT_REFERENCE(r, "log_likelihood", fit.log_likelihood);
}

// Identity: tau far below sigma is the normal, sigma far below tau the exponential; no jump where the formula changes.
TEST(ExGaussian, LimitsOfTheDensity) {
  const double at = 1.3;
  EXPECT_NEAR(ex_gaussian_log_density(at, {1.0, 0.5, 1e-4}),
              -0.5 * 0.36 - std::log(0.5) - 0.5 * std::log(2 * std::acos(-1.0)), 1e-3);
  EXPECT_NEAR(ex_gaussian_log_density(at, {1.0, 1e-6, 0.5}), -0.6 - std::log(0.5), 1e-10);
  for (const double tau : {0.05, 0.1, 0.2}) {
    const double edge = 1.0 + 0.5 * (0.5 / tau - 5.0);  // z - r = -5
    EXPECT_NEAR(ex_gaussian_log_density(edge - 1e-9, {1.0, 0.5, tau}),
                ex_gaussian_log_density(edge + 1e-9, {1.0, 0.5, tau}), 1e-7);
  }
  EXPECT_TRUE(std::isfinite(ex_gaussian_log_density(-50.0, {1.0, 0.01, 0.5})));
  EXPECT_NEAR(ex_gaussian_cdf(100.0, {1, 2, 3}), 1.0, 1e-12);
  EXPECT_EQ(ex_gaussian_cdf(-100.0, {1, 2, 3}), 0.0);
}

// Identity: the fit is a stationary point: moving any parameter either way lowers the likelihood.
TEST(ExGaussian, NoNeighbourIsBetter) {
  const auto x = draws(300, {0.25, 0.04, 0.09}, 5);
  const auto fit = fit_ex_gaussian(x);
  ASSERT_EQ(fit.status, FitStatus::converged);
  const auto likelihood = [&](const ExGaussian& p) {
    double total = 0.0;
    for (const double v : x) total += ex_gaussian_log_density(v, p);
    return total;
  };
  const double best = likelihood(fit.parameters);
  EXPECT_DIGITS(fit.log_likelihood, best, 12);
  for (const double f : {0.99, 1.01}) {
    const auto& p = fit.parameters;
    EXPECT_LT(likelihood({p.mu * f, p.sigma, p.tau}), best);
    EXPECT_LT(likelihood({p.mu, p.sigma * f, p.tau}), best);
    EXPECT_LT(likelihood({p.mu, p.sigma, p.tau * f}), best);
  }
  // Identity: the likelihood equation for location makes the fitted mean close to that of the data.
  EXPECT_NEAR(fit.parameters.mean(), *bagsplit::stats::mean(x), 0.2 * fit.se->tau);
}

// Identity: units and origin carry over; the order of the values does not matter.
TEST(ExGaussian, Invariances) {
  auto x = draws(150, {0.25, 0.04, 0.09}, 6);
  const auto a = fit_ex_gaussian(x);
  std::vector<double> y(x.rbegin(), x.rend());
  for (double& v : y) v = 1000.0 * v + 50.0;
  const auto b = fit_ex_gaussian(y);
  EXPECT_DIGITS(b.parameters.mu, 1000.0 * a.parameters.mu + 50.0, 6);
  EXPECT_DIGITS(b.parameters.sigma, 1000.0 * a.parameters.sigma, 5);
  EXPECT_DIGITS(b.se->tau, 1000.0 * a.se->tau, 4);
  EXPECT_NEAR(b.log_likelihood, a.log_likelihood - 150.0 * std::log(1000.0), 1e-6);
}

// Identity: estimates come back within four standard errors of what made the data, over 40 samples of 200 (one
// parameter in 16,000 would not; the seeds are fixed).
TEST(ExGaussian, ComesBack) {
  const ExGaussian truth{0.2, 0.04, 0.1};
  for (std::uint64_t seed = 1; seed <= 40; ++seed) {
    const auto fit = fit_ex_gaussian(draws(200, truth, 100 + seed));
    ASSERT_EQ(fit.status, FitStatus::converged) << seed << fit.message;
    EXPECT_NEAR(fit.parameters.mu, truth.mu, 4 * fit.se->mu) << seed;
    EXPECT_NEAR(fit.parameters.sigma, truth.sigma, 4 * fit.se->sigma) << seed;
    EXPECT_NEAR(fit.parameters.tau, truth.tau, 4 * fit.se->tau) << seed;
  }
}

// Identity: at the edges the fit is the normal's or the exponential's own, in closed form; few values are refused.
TEST(ExGaussian, EdgesAndFewValues) {
  std::vector<double> left;  // a slow tail on the wrong side
  for (const double v : draws(60, {0.0, 0.02, 0.1}, 7)) left.push_back(1.0 - v);
  const auto normal = fit_ex_gaussian(left);
  EXPECT_EQ(normal.status, FitStatus::at_boundary);
  EXPECT_EQ(normal.parameters.tau, 0.0);
  EXPECT_DIGITS(normal.parameters.mu, *bagsplit::stats::mean(left), 12);
  EXPECT_DIGITS(normal.parameters.sigma, *bagsplit::stats::standard_deviation(left) * std::sqrt(59.0 / 60.0), 12);
  EXPECT_FALSE(normal.se);

  std::vector<double> quantiles;  // an exponential that begins sharply
  for (int i = 0; i < 80; ++i) quantiles.push_back(0.2 - 0.1 * std::log1p(-(i + 0.02) / 80.0));
  const auto sharp = fit_ex_gaussian(quantiles);
  EXPECT_TRUE(usable(sharp.status)) << sharp.message;
  EXPECT_LT(sharp.parameters.sigma, 0.003);

  EXPECT_EQ(fit_ex_gaussian({}).status, FitStatus::too_few_data);
  const auto few = fit_ex_gaussian(std::vector<double>{0.2, 0.3, 0.25});
  EXPECT_EQ(few.status, FitStatus::too_few_data);
  EXPECT_EQ(few.message, "3 values; at least 10 are needed");
  EXPECT_EQ(fit_ex_gaussian(std::vector<double>(20, 0.3)).status, FitStatus::failed);
}

// Common practice, no source: programmer's errors throw.
TEST(ExGaussian, RefusesBadCalls) {
  EXPECT_THROW(ex_gaussian_log_density(0.0, {0, 0, 1}), std::domain_error);
  EXPECT_THROW(ex_gaussian_cdf(0.0, {0, 1, -1}), std::domain_error);
  EXPECT_THROW(fit_ex_gaussian(std::vector<double>{std::nan("")}), std::domain_error);
}

}  // namespace
