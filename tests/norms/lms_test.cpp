// The LMS functions against the growth charts of the CDC.
// Source: Kuczmarski RJ et al. (2002), 2000 CDC growth charts, Vital Health Stat 11(246), data files (public domain);
// Cole TJ, Green PJ (1992), Stat Med 11:1305-1319.
#include "bagsplit/norms/lms.hpp"

#include <gtest/gtest.h>

#include <array>
#include <cmath>
#include <fstream>
#include <sstream>
#include <stdexcept>
#include <string>
#include <vector>

#include "bagsplit/norms/table.hpp"
#include "bagsplit/stats/distributions.hpp"
#include "support/digits.hpp"

namespace {

using bagsplit::norms::Lms;
using bagsplit::norms::lms_density;
using bagsplit::norms::lms_value;
using bagsplit::norms::lms_z;

bagsplit::norms::Table read(const std::string& name) {
  std::ifstream in(std::string(BAGSPLIT_TEST_DATA) + "/norms/" + name);
  std::ostringstream text;
  text << in.rdbuf();
  bagsplit::text::Problems problems;
  // The CDC files call the sexes 1 and 2, which no norm file does; those columns are not asked for here.
  std::string body = text.str();
  const auto at = body.find("measure,sex,");
  body.replace(at, 12, "measure,code,");
  auto table = bagsplit::norms::parse_table(body, name, problems);
  EXPECT_TRUE(problems.empty());
  return table;
}

Lms lms_of(const bagsplit::norms::Table& table, std::size_t row) {
  return {*cell_number(table, row, "L"), *cell_number(table, row, "M"), *cell_number(table, row, "S")};
}

TEST(Lms, ReproducesThePublishedPercentiles) {
  const auto table = read("cdc_lms.csv");
  ASSERT_GT(table.rows.size(), 80U);
  constexpr std::array<std::pair<const char*, double>, 9> published = {{{"P3", 0.03},
                                                                        {"P5", 0.05},
                                                                        {"P10", 0.10},
                                                                        {"P25", 0.25},
                                                                        {"P50", 0.50},
                                                                        {"P75", 0.75},
                                                                        {"P90", 0.90},
                                                                        {"P95", 0.95},
                                                                        {"P97", 0.97}}};
  for (std::size_t i = 0; i < table.rows.size(); ++i) {
    const Lms lms = lms_of(table, i);
    for (const auto& [name, p] : published) {
      const auto value = lms_value(lms, bagsplit::stats::normal_quantile(p));
      ASSERT_TRUE(value);
      // Source: CDC data files, columns P3 to P97 (10 digits); 3e-9 is their own rounding (R 4.2.2 gives the same).
      EXPECT_DIGITS(*value, *cell_number(table, i, name), 8.4);
    }
  }
}

TEST(Lms, ReproducesIndividualScores) {
  const auto table = read("cdc_lms_cases.csv");
  double sum = 0.0;
  for (std::size_t i = 0; i < table.rows.size(); ++i) {
    const Lms lms = lms_of(table, i);
    const double z = lms_z(lms, *cell_number(table, i, "x"));
    // Computed: R 4.2.2, ((x/M)^L - 1)/(L S) and 100 pnorm(z), 15 digits in tests/norms/cdc_lms_cases.csv
    EXPECT_NEAR(z, *cell_number(table, i, "z"), 1e-12);
    EXPECT_DIGITS(100.0 * bagsplit::stats::normal_cdf(z), *cell_number(table, i, "percentile"), 11.0);
    sum += z;
  }
  // Computed: R 4.2.2, sum of column z
  EXPECT_DIGITS(sum, 1.8210505216883262, 9.0);
}

TEST(Lms, ReproducesTheWorkedExampleOfTheDataFiles) {
  // Source: CDC, growth chart data files: a boy of 9.5 months and 9.7 kg has z = 0.207, the 58th percentile
  const Lms lms{-0.1600954, 9.476500305, 0.11218624};
  EXPECT_NEAR(lms_z(lms, 9.7), 0.207, 0.0005);
  EXPECT_NEAR(100.0 * bagsplit::stats::normal_cdf(lms_z(lms, 9.7)), 58.0, 0.5);
  // Computed: R 4.2.2, ((9.7/M)^L - 1)/(L S)
  EXPECT_DIGITS(lms_z(lms, 9.7), 0.2073994118625263, 11.0);
}

TEST(Lms, KeepsItsDigitsAsThePowerGoesToZero) {
  // Identity: closed form, log(12/10)/0.1 at L = 0
  EXPECT_DIGITS(lms_z({0.0, 10.0, 0.1}, 12.0), 1.8232155679395459, 15.0);
  // Identity: series in L at L = 1e-9, log(1.2)/0.1 (1 + 1e-9 log(1.2)/2); a plain power has 7 digits here
  EXPECT_DIGITS(lms_z({1e-9, 10.0, 0.1}, 12.0), 1.8232155681057518, 14.0);
  // Computed: R 4.2.2, 10 exp(0.1 qnorm(0.97))
  EXPECT_DIGITS(*lms_value({0.0, 10.0, 0.1}, bagsplit::stats::normal_quantile(0.97)), 12.069292944416068, 13.0);
}

TEST(Lms, InterpolatesEachParameter) {
  const auto table = read("cdc_lms.csv");
  std::size_t row = 0;
  while (!(*cell_number(table, row, "agemos") == 120.5 && *cell_number(table, row, "code") == 1.0 &&
           table.cells[row][0] == "stature_cm")) {
    ++row;
  }
  const Lms lms = bagsplit::norms::interpolate(lms_of(table, row), lms_of(table, row + 1), (123.0 - 120.5) / 6.0);
  // Computed: R 4.2.2, approx() between the rows of 120.5 and 126.5 months
  EXPECT_DIGITS(lms.l, 0.51099076375, 9.0);
  EXPECT_DIGITS(lms.m, 139.83788644166665, 12.0);
  EXPECT_DIGITS(lms.s, 0.04789933758333333, 12.0);
  EXPECT_DIGITS(lms_z(lms, 145.0), 0.7638469568200459, 9.0);
}

TEST(Lms, GoesThereAndBackForEveryPower) {
  for (const double l : {-1.5, -1.1, -1e-6, 0.0, 1e-12, 0.4, 1.0, 2.2}) {
    for (double z = -3.0; z <= 3.0; z += 0.25) {
      const Lms lms{l, 4.4, 0.09};
      // Identity: X(z(x)) = x
      EXPECT_NEAR(lms_z(lms, *lms_value(lms, z)), z, 1e-12) << l;
    }
  }
}

TEST(Lms, DensityIsTheSlopeOfTheDistribution) {
  for (const double l : {-1.1, 0.0, 1.0}) {
    const Lms lms{l, 4.4, 0.09};
    for (const double x : {3.6, 4.4, 5.3}) {
      const double h = 1e-5;
      const double slope =
          (bagsplit::stats::normal_cdf(lms_z(lms, x + h)) - bagsplit::stats::normal_cdf(lms_z(lms, x - h))) / (2 * h);
      // Identity: derivative by central differences, error about h^2
      EXPECT_DIGITS(lms_density(lms, x), slope, 7.0);
    }
  }
}

TEST(Lms, SaysWhereTheCurveDoesNotReach) {
  // Identity: 1 + L S z <= 0
  EXPECT_FALSE(lms_value({-1.1, 4.4, 0.09}, 10.2));
  EXPECT_FALSE(lms_value({1.0, 4.4, 0.5}, -2.0));
  EXPECT_TRUE(lms_value({-1.1, 4.4, 0.09}, 10.0));
}

TEST(Lms, RefusesWhatIsNoMeasurement) {
  EXPECT_THROW(lms_z({1.0, 10.0, 0.1}, 0.0), std::domain_error);
  EXPECT_THROW(lms_z({1.0, 10.0, 0.1}, NAN), std::domain_error);
  EXPECT_THROW(lms_z({1.0, 10.0, 0.0}, 1.0), std::domain_error);
  EXPECT_THROW(lms_value({1.0, -1.0, 0.1}, 0.0), std::domain_error);
  EXPECT_THROW(lms_value({1.0, 1.0, 0.1}, INFINITY), std::domain_error);
}

}  // namespace
