// Stated intervals must cover what they state: players drawn from the prior, runs drawn from the model, the place of
// the truth in its posterior uniform.
//
// Source: Talts, Betancourt, Simpson, Vehtari & Gelman (2018), simulation-based calibration, arXiv:1804.06788.
// The seed is fixed; bounds are set so that a correct program fails one time in a million.
#include <gtest/gtest.h>

#include <array>
#include <boost/math/distributions/chi_squared.hpp>
#include <boost/random/mersenne_twister.hpp>
#include <boost/random/normal_distribution.hpp>
#include <cmath>
#include <cstdio>
#include <vector>

#include "bagsplit/inference/posterior/posterior.hpp"

namespace {

using namespace bagsplit::motion;
using namespace bagsplit::inference;

constexpr int players = 800;
constexpr double base_m = 18.288;

class Simulator {
 public:
  double normal(double mean, double sd) { return mean + sd * normal_(engine_); }

 private:
  boost::random::mt19937_64 engine_{20260411};
  boost::random::normal_distribution<double> normal_;
};

struct Coverage {
  int inside = 0;
  std::array<int, 8> octant{};

  // Place of the truth among the 12.5, 25, ... 87.5 % points, found from intervals of four levels.
  template <typename Summary>
  void add(double truth, Summary&& at_level) {
    const Estimate ninety = at_level(0.9);
    inside += truth >= ninety.lo && truth <= ninety.hi;
    const Estimate quarter = at_level(0.25);
    const Estimate half = at_level(0.5);
    const Estimate most = at_level(0.75);
    const std::array<double, 7> edges = {most.lo, half.lo, quarter.lo, quarter.median, quarter.hi, half.hi, most.hi};
    std::size_t place = 0;
    while (place < edges.size() && truth > edges[place]) {
      ++place;
    }
    ++octant[place];
  }

  void expect_calibrated(const char* what) const {
    // 4.9 standard errors: one in a million.
    const double share = static_cast<double>(inside) / players;
    EXPECT_NEAR(share, 0.9, 4.9 * std::sqrt(0.9 * 0.1 / players)) << what;
    double chi_square = 0.0;
    for (const int count : octant) {
      const double expected = players / 8.0;
      chi_square += (count - expected) * (count - expected) / expected;
    }
    EXPECT_LT(chi_square, quantile(boost::math::chi_squared(7.0), 1.0 - 1e-6)) << what;
    std::printf("%s: 90%% intervals cover %.1f%%, chi-square of 8 ranks %.1f (7 degrees)\n", what, 100.0 * share,
                chi_square);
  }
};

TEST(Calibration, NinetyPercentIntervalsCoverNinetyPercent) {
  Simulator simulator;
  Coverage v, tau, reaction, loss, bias, ten_metres;
  for (int i = 0; i < players; ++i) {
    PlayerData data;
    data.log_top_speed = {std::log(6.0), 0.09};
    data.log_time_constant = {std::log(0.9), 0.25};
    // reaction, losses first to home, shared bias of signal starts, bias of self starts
    data.terms = {{0.32, 0.09}, {0.35, 0.2}, {0.35, 0.2}, {0.35, 0.2}, {0.2, 0.2}, {-0.1, 0.1}, {-0.2, 0.1}};
    data.effort_cv = 0.02;
    data.day_cv = 0.015;
    data.reaction_sd_s = 0.06;
    const Sprint sprint{std::exp(simulator.normal(std::log(6.0), 0.09)),
                        std::exp(simulator.normal(std::log(0.9), 0.25))};
    std::array<double, 7> truth{};
    for (std::size_t k = 0; k < truth.size(); ++k) {
      truth[k] = simulator.normal(data.terms[k].mean, data.terms[k].sd);
    }
    for (std::uint32_t day = 1; day <= 2; ++day) {
      const double form = simulator.normal(0.0, data.day_cv);
      for (int run = 0; run < 2; ++run) {
        const double effort = 1.0 + form + simulator.normal(0.0, data.effort_cv);
        const double reacted = simulator.normal(0.0, data.reaction_sd_s);
        data.add_run(day);
        for (int watch = 0; watch < (run == 0 ? 2 : 1); ++watch) {
          const double start = simulator.normal(0.0, 0.05);
          std::vector<MarkData> marks;
          double sum = truth[0] + truth[5] + reacted + start;
          std::uint64_t terms = 1U | (1U << 5U);
          for (unsigned k = 1; k <= 4; ++k) {
            sum += truth[k];
            terms |= std::uint64_t{1} << k;
            marks.push_back({base_m * k,
                             effort * time_to_distance(sprint, base_m * k) + sum + simulator.normal(0.0, 0.07), 0.07,
                             terms});
          }
          data.add_reading(true, 0.0, 0.05, marks);
        }
      }
      const double effort = 1.0 + form + simulator.normal(0.0, data.effort_cv);
      const double start = simulator.normal(0.0, 0.06);
      std::vector<MarkData> marks;
      for (const double d : {10.0, 30.0}) {
        marks.push_back(
            {d, effort * time_to_distance(sprint, d) + truth[6] + start + simulator.normal(0.0, 0.07), 0.07, 1U << 6U});
      }
      data.add_run(day);
      data.add_reading(false, 0.0, 0.06, marks);
    }
    const Posterior posterior(data);
    ASSERT_TRUE(posterior.usable());
    const auto function = [&](auto&& f) {
      return [&posterior, f](double level) {
        std::vector<double> values;
        for (const Sprint& s : posterior.sprints()) {
          values.push_back(f(s));
        }
        return posterior.of_sprint(values, level, std::nullopt);
      };
    };
    const auto term = [&](std::uint32_t k) {
      return [&posterior, k](double level) { return posterior.of_terms(std::span(&k, 1), level); };
    };
    v.add(sprint.top_speed_mps, function([](const Sprint& s) { return s.top_speed_mps; }));
    tau.add(sprint.time_constant_s, function([](const Sprint& s) { return s.time_constant_s; }));
    ten_metres.add(time_to_distance(sprint, 10.0), function([](const Sprint& s) { return time_to_distance(s, 10.0); }));
    reaction.add(truth[0], term(0));
    loss.add(truth[2], term(2));
    bias.add(truth[5], term(5));
  }
  v.expect_calibrated("top_speed");
  tau.expect_calibrated("time_constant");
  ten_metres.expect_calibrated("time_to_10_m");
  reaction.expect_calibrated("reaction");
  loss.expect_calibrated("loss_at_second");
  bias.expect_calibrated("timer_bias");
}

}  // namespace
