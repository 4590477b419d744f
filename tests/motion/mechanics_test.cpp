#include "bagsplit/motion/mechanics.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <stdexcept>

namespace {

using namespace bagsplit;
using motion::Body;
using motion::Sprint;

constexpr Sprint runner{7.0, 1.1};

// Source: body surface 71.84 cm2 x kg^0.425 x cm^0.725, Du Bois & Du Bois (1916), Arch Intern Med 17:863-871,
// doi:10.1001/archinte.1916.00080130010002; of it 0.266 faces the wind, drag coefficient 0.9, air of 1.293 kg/m3 at 0
// degrees Celsius (Arsac & Locatelli 2002, doi:10.1152/japplphysiol.00803.2001: from memory, unverified).
TEST(Mechanics, DragFactorIsThatOfTheBodySurfaceFormulaInItsOwnUnits) {
  for (const Body body : {Body{36.0, 1.43}, Body{70.0, 1.75}, Body{24.0, 1.22, 0.0}}) {
    const double surface_m2 = 71.84e-4 * std::pow(body.mass_kg, 0.425) * std::pow(100.0 * body.height_m, 0.725);
    const double density = 1.293 * 273.0 / (273.0 + body.temperature_c);
    EXPECT_NEAR(motion::drag_factor_kgpm(body) / (0.5 * density * 0.266 * surface_m2 * 0.9), 1.0, 5e-4);
  }
}

// Identity: the first move's force is all that accelerates, m V/tau.
TEST(Mechanics, LargestForceIsMassTimesFirstAcceleration) {
  EXPECT_DOUBLE_EQ(motion::max_force_n(runner, {36.0, 1.43}), 36.0 * 7.0 / 1.1);
}

// Computed: F(v) v = (m (V - v)/tau + k v^2) v at 70,001 speeds from 0 to V.
TEST(Mechanics, LargestPowerIsThatOfTheCurve) {
  for (const Body body : {Body{36.0, 1.43}, Body{80.0, 1.85}}) {
    const double k = motion::drag_factor_kgpm(body);
    double most = 0.0;
    for (int i = 0; i <= 70'000; ++i) {
      const double v = runner.top_speed_mps * i / 70'000.0;
      most = std::max(most, (body.mass_kg * (runner.top_speed_mps - v) / runner.time_constant_s + k * v * v) * v);
    }
    EXPECT_NEAR(motion::max_power_w(runner, body) / most, 1.0, 1e-8);
    EXPECT_GT(most, 0.25 * motion::max_force_n(runner, body) * runner.top_speed_mps);  // without drag just that
  }
}

// Identity: a body that hardly slows down still has its largest power at top speed, drag being all there is to
// overcome.
TEST(Mechanics, WhereDragOutgrowsTheBodyPowerIsLargestAtTopSpeed) {
  const Sprint slow_to_tire{12.0, 400.0};
  const Body body{36.0, 1.43};
  EXPECT_NEAR(motion::max_power_w(slow_to_tire, body), motion::drag_factor_kgpm(body) * 12.0 * 12.0 * 12.0, 1e-6);
}

TEST(Mechanics, RefusesABodyWithoutMassOrHeight) {
  EXPECT_THROW(motion::drag_factor_kgpm({0.0, 1.4}), std::domain_error);
  EXPECT_THROW(motion::drag_factor_kgpm({36.0, -1.4}), std::domain_error);
  EXPECT_THROW(motion::max_force_n(runner, {std::nan(""), 1.4}), std::domain_error);
}

}  // namespace
