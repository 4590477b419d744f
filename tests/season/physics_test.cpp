// Growth, wind and what a course says of a sprint: against published figures and the equations themselves.
#include <gtest/gtest.h>

#include <cmath>
#include <utility>

#include "bagsplit/inference/season/growth.hpp"
#include "bagsplit/inference/season/sprint.hpp"

namespace {

using namespace bagsplit::season;

// Source: Linthorne (1994), Track Technique 127:4052-4055: +2 m/s over 100 m is worth 0.10 +- 0.01 s (men) and
// 0.12 +- 0.02 s (women).
TEST(Wind, IsWorthWhatWasFoundOver100Metres) {
  const double men = wind_change_s(2.0, 100.0, 11.6, 1.35, drag_per_m(1.80, 77.0, 0.77), false);
  const double women = wind_change_s(2.0, 100.0, 10.5, 1.30, drag_per_m(1.68, 59.0, 0.77), false);
  EXPECT_NEAR(men, -0.10, 0.01);
  EXPECT_NEAR(women, -0.12, 0.02);
}

/// Time over a distance by Runge-Kutta steps of 1 ms on the full equation.
double time_by_steps(double distance_m, double speed, double tau, double drag, double wind) {
  const auto rate = [&](double v) { return (speed - v) / tau + drag * (2.0 * v * wind - wind * wind); };
  double t = 0.0, x = 0.0, v = 0.0;
  constexpr double h = 1e-3;
  while (true) {
    const double k1 = rate(v), k2 = rate(v + 0.5 * h * k1), k3 = rate(v + 0.5 * h * k2), k4 = rate(v + h * k3);
    const double next_x = x + h * v + h * h / 6.0 * (k1 + k2 + k3);
    if (next_x >= distance_m) {
      return t + h * (distance_m - x) / (next_x - x);
    }
    x = next_x;
    v += h / 6.0 * (k1 + 2.0 * k2 + 2.0 * k3 + k4);
    t += h;
  }
}

// Identity: first order in drag against the equation solved in steps, a child of 1.45 m and 38 kg over 60 and 180 ft.
TEST(Wind, IsTheFullEquationToFirstOrder) {
  const double drag = drag_per_m(1.45, 38.0, 0.77);
  for (const double distance_m : {18.288, 54.864}) {
    for (const double wind : {-3.0, -1.0, 2.0}) {
      const double exact =
          time_by_steps(distance_m, 5.6, 1.05, drag, wind) - time_by_steps(distance_m, 5.6, 1.05, drag, 0.0);
      const double got = wind_change_s(wind, distance_m, 5.6, 1.05, drag, false);
      EXPECT_NEAR(got, exact, 0.06 * std::fabs(exact) + 0.0005) << distance_m << " m, " << wind << " m/s";
    }
  }
}

// Identity: on a loop what is gained out is lost back, but for the square.
TEST(Wind, OnALoopOnlyCosts) {
  const double drag = drag_per_m(1.45, 38.0, 0.77);
  EXPECT_GT(wind_change_s(2.0, 73.152, 5.6, 1.05, drag, true), 0.0);
  EXPECT_DOUBLE_EQ(wind_change_s(2.0, 73.152, 5.6, 1.05, drag, true),
                   wind_change_s(-2.0, 73.152, 5.6, 1.05, drag, true));
}

// Identity: the distance run in the time found.
TEST(Sprint, TimeGivesBackTheDistance) {
  for (const double distance_m : {1.0, 18.288, 100.0}) {
    for (const double tau : {0.6, 1.1, 1.8}) {
      const double t = moving_time_s(distance_m, 6.2, tau);
      EXPECT_NEAR(6.2 * (t + tau * std::expm1(-t / tau)), distance_m, 1e-12 * distance_m);
    }
  }
}

// Identity: differences of log moving time, 0.01 % either way.
TEST(Sprint, ResponseOfACourseIsTheDerivative) {
  constexpr double step = 1e-4;
  for (const auto& [distance_m, turns_s] : {std::pair{18.288, 0.0}, std::pair{36.576, 0.34}, std::pair{73.152, 1.02}}) {
    const double speed = 5.5, tau = 1.1, d = distance_m, turns = turns_s;
    const auto log_time = [&](double v, double a) { return std::log(moving_time_s(d, v, v / a) + turns); };
    const double a = speed / tau;
    const auto got = course_response(distance_m, turns_s, speed, tau);
    const double by_speed = (log_time(speed * (1.0 - step), a) - log_time(speed * (1.0 + step), a)) / (2.0 * step);
    const double by_acceleration =
        (log_time(speed, a * (1.0 - step)) - log_time(speed, a * (1.0 + step))) / (2.0 * step);
    EXPECT_NEAR(got.top_speed, by_speed, 1e-7);
    EXPECT_NEAR(got.first_acceleration, by_acceleration, 1e-7);
  }
}

// Identity: the longer the course, the more it says of top speed and the less of first acceleration.
TEST(Sprint, LongerCoursesSayMoreOfTopSpeed) {
  const auto shorter = course_response(18.288, 0.0);
  const auto longer = course_response(54.864, 0.0);
  EXPECT_GT(longer.top_speed, shorter.top_speed);
  EXPECT_LT(longer.first_acceleration, shorter.first_acceleration);
}

// Identity: the table of the header at its knots; a boy of 12.5 years grows fastest but for the youngest.
TEST(Growth, GivesBackItsTable) {
  EXPECT_DOUBLE_EQ(growth_rate_per_yr(Sex::male, 12.5), -0.050);
  EXPECT_DOUBLE_EQ(growth_rate_per_yr(Sex::female, 10.5), -0.035);
  EXPECT_DOUBLE_EQ(growth_rate_per_yr(Sex::unknown, 10.5), -0.037);
  EXPECT_DOUBLE_EQ(growth_rate_per_yr(Sex::male, 4.0), growth_rate_per_yr(Sex::male, 6.5));
  EXPECT_DOUBLE_EQ(growth_rate_per_yr(Sex::female, 17.9), growth_rate_per_yr(Sex::female, 17.5));
  EXPECT_EQ(growth_rate_per_yr(Sex::female, 30.0), 0.0);
  EXPECT_EQ(growth_between(Sex::male, 18.0, 30.0), 0.0);
}

// Source: Tonnessen et al. (2015), PLoS ONE 10:e0129014: boys and girls about alike up to 12 years, boys ahead from
// then.
TEST(Growth, OfBoysAndGirlsIsAboutAlikeUntilTwelve) {
  EXPECT_NEAR(growth_between(Sex::male, 7.0, 11.0), growth_between(Sex::female, 7.0, 11.0), 0.012);
  EXPECT_LT(growth_between(Sex::male, 12.0, 15.0), growth_between(Sex::female, 12.0, 15.0) - 0.03);
}

// Source: Japan Sports Agency, fiscal 2017, boys, 50 m: 11.45 to 8.88 s from 6 to 11 years (means 10.62, 10.02, 9.55,
// 9.15 between), Tønnessen et al. (2015), doi:10.1371/journal.pone.0129014: 60 m, 13 to 16 years, boys -3.7 -1.3 -2.3
// %. The smooth table stays within 0.9 % a year of each.
TEST(Growth, IsNearThePublishedRates) {
  const struct {
    double from, rate_pct;
  } boys[] = {{6.0, -7.3},  {7.0, -5.6},  {8.0, -4.7},  {9.0, -3.8},
              {10.0, -4.4}, {13.0, -3.7}, {14.0, -1.3}, {15.0, -2.3}};
  for (const auto& year : boys) {
    EXPECT_NEAR(100.0 * growth_between(Sex::male, year.from, year.from + 1.0), year.rate_pct, 0.9) << year.from;
  }
}

// Identity: the integral by 2,000 midpoints, below, within and above the table.
TEST(Growth, SumsUpItsRate) {
  for (const auto& [from, to] : {std::pair{5.0, 8.3}, std::pair{9.2, 9.9}, std::pair{11.7, 17.9}}) {
    double sum = 0.0;
    for (int i = 0; i < 2000; ++i) {
      sum += growth_rate_per_yr(Sex::male, from + (to - from) * (i + 0.5) / 2000.0) * (to - from) / 2000.0;
    }
    EXPECT_NEAR(growth_between(Sex::male, from, to), sum, 1e-6);
  }
}

}  // namespace
