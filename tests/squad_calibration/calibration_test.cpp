// What intervals state must hold: squads drawn from the model, profiled with the squad's model.
//
// Source: Talts, Betancourt, Simpson, Vehtari & Gelman (2018), simulation-based calibration, arXiv:1804.06788. The seed
// is fixed. squad_calibration prints the same for 1,000 squads.
#include <gtest/gtest.h>

#include <string_view>

#include "squad_calibration/world.hpp"

namespace {

TEST(SquadCalibration, NinetyPercentIntervalsCoverNinetyPercent) {
  const bagsplit::test::Calibration result = bagsplit::test::calibrate(120, 20260502, {}, 0);
  EXPECT_EQ(result.not_certified, 0);
  for (const char* name : {"reaction_s", "time_constant_s", "top_speed_mps", "loss", "home-first", "session"}) {
    const bagsplit::test::Coverage& coverage = result.quantities.at(name);
    ASSERT_GT(coverage.count, 500) << name;
    // Players of one squad share their scales and biases, so counts scatter more than independent ones would.
    EXPECT_NEAR(coverage.share(), 0.9, 0.03) << name;
  }
  ASSERT_GT(result.three_runs, 60);
  EXPECT_NEAR(result.three_run_coverage.share(), 0.9, 0.07);
  EXPECT_LT(result.model_width_s, 0.7 * result.own_width_s);
}

// Source: as above. Of what the grid prints as sure, 95 of 100 must be so: over 80 squads here, 200 by
// hand (squad_calibration 200).
TEST(SquadCalibration, SureMarksAreRight) {
  const bagsplit::test::Calibration result = bagsplit::test::calibrate(80, 20260504, {}, 0);
  ASSERT_GT(result.sure_marks, 120);
  EXPECT_GE(result.sure_marks_right, 0.95 * result.sure_marks)
      << result.sure_marks_right << " of " << result.sure_marks;
}

// Source: as above; a squad where who is faster loses more at the bags, as far as the model allows (correlation 0.9 of
// the child's own parts). Computed: without the slope in the model V covers 84 %, losses 75 %.
TEST(SquadCalibration, WhereFasterChildrenLoseMoreAtTheBagsItStillHolds) {
  const bagsplit::test::Calibration result = bagsplit::test::calibrate(60, 20260503, {.loss_slope_s = 2.2}, 0);
  EXPECT_EQ(result.not_certified, 0);
  for (const char* name : {"top_speed_mps", "loss", "home-first"}) {
    EXPECT_NEAR(result.quantities.at(name).share(), 0.9, 0.05) << name;  // home to first 0.856 seen
  }
}

// Source: as above. Computed, with another program (numpy, Gaussian posterior, 100 squads a line): with the late
// slowing in the model loss at home covers 90 %, without it 46 %; without any slowing in truth 76 %. Of clocks 0.30 s
// late 56 of 100 are found, of right ones 1 is accused.
TEST(SquadCalibration, MixedDrillsWithLateSlowingHold) {
  const bagsplit::test::Calibration result = bagsplit::test::calibrate(40, 20260504, {.mixed = true}, 0);
  EXPECT_EQ(result.not_certified, 0);
  for (const char* name : {"top_speed_mps", "max_acceleration_mps2", "home-first", "loss", "loss.home"}) {
    // The level of first acceleration is one draw a squad: forty squads scatter by 3 points.
    const bool of_the_squad = std::string_view(name) == "max_acceleration_mps2";
    EXPECT_NEAR(result.quantities.at(name).share(), 0.9, of_the_squad ? 0.09 : 0.05) << name;
  }
  EXPECT_LE(result.losses_false, result.losses_said / 50);
  EXPECT_LE(result.first_steps, result.players / 50);
  EXPECT_LE(result.starts_late, 2);
}

TEST(SquadCalibration, WithoutLateSlowingInTruthHomeErrsOnTheCarefulSide) {
  const bagsplit::test::Calibration result =
      bagsplit::test::calibrate(40, 20260505, {.mixed = true, .late_slowing_per_s = 0.0}, 0);
  EXPECT_GE(result.quantities.at("loss.home").share(), 0.70);
  EXPECT_GE(result.quantities.at("top_speed_mps").share(), 0.84);
  EXPECT_LE(result.losses_false, result.losses_said / 50);
}

TEST(SquadCalibration, ClocksThatStartLateAreFound) {
  const bagsplit::test::Calibration result =
      bagsplit::test::calibrate(40, 20260506, {.mixed = true, .self_start_s = -0.30}, 0);
  EXPECT_GE(result.starts_late, 14);
  EXPECT_LE(result.starts_early, 1);
}

}  // namespace
