// Squads drawn from the model, some of whose numbers are then made wrong.
//
// Source: Talts, Betancourt, Simpson, Vehtari & Gelman (2018), simulation-based calibration, arXiv:1804.06788, for the
// way; the bounds are those that an independent program (numpy; 44 squads a condition) reached with the same mixture,
// less two standard errors of these squads. squad_calibration slips prints all of it.
#include <gtest/gtest.h>

#include "squad_calibration/slips.hpp"

namespace {

using bagsplit::test::calibrate_slips;
using bagsplit::test::Nights;
using bagsplit::test::SlipCalibration;

constexpr int squads = 12;

// Source: as the head of this file says.
TEST(SlipCalibration, ACleanNightIsToldAsWithoutTheMixture) {
  const SlipCalibration result = calibrate_slips(squads, 20261201, Nights::drills, {0.0, 0.0}, 0);
  EXPECT_EQ(result.not_certified, 0);
  for (const auto& [name, interval] : result.not_hit) {
    EXPECT_NEAR(interval.slipped.share(), interval.clean.share(), 0.02) << name;
    EXPECT_LT(interval.width_of(interval.slipped.count), 1.03) << name;
  }
  EXPECT_LE(result.false_names, 4) << result.clean_readings;
}

// Source: as the head of this file says.
TEST(SlipCalibration, WithSlipsOfASecondIntervalsHoldAndRowsAreNamed) {
  const SlipCalibration result = calibrate_slips(squads, 20261201, Nights::drills, {0.05, 1.0}, 0);
  for (const char* name : {"loss", "top_speed_mps", "home-first"}) {
    EXPECT_GT(result.hit.at(name).slipped.share(), result.hit.at(name).clean.share() - 0.06) << name;
    EXPECT_NEAR(result.not_hit.at(name).slipped.share(), 0.905, 0.06) << name;
    EXPECT_LT(result.not_hit.at(name).width_of(result.not_hit.at(name).slipped.count), 1.05) << name;
  }
  EXPECT_GT(result.rows_named, 0.9 * result.slips);
  EXPECT_GT(result.cells_named, 0.76 * result.slips);
  EXPECT_LE(result.false_names, 0.0015 * result.clean_readings + 3.0);
  EXPECT_LE(result.advised_falsely, 0.01 * result.advised + 2.0);
  EXPECT_GT(result.advised, 0.75 * result.advised_clean);  // 13 of 16 seen; 90 % wanted
}

// Source: as the head of this file says.
TEST(SlipCalibration, GatesNameSlipsOfThreeTenths) {
  const SlipCalibration result = calibrate_slips(squads, 20261201, Nights::gates, {0.05, 0.3}, 0);
  EXPECT_GT(result.rows_named, 0.94 * result.slips);   // 109 of 114 seen; 98 % wanted
  EXPECT_GT(result.cells_named, 0.78 * result.slips);  // 92 of 114 seen; 88 % wanted
  EXPECT_GT(result.hit.at("top_speed_mps").slipped.share(), 0.82);
  EXPECT_LE(result.false_names, 2);
}

}  // namespace
