// Intervals of relays hold what they say: worlds drawn from the model, their logs read back.
#include <gtest/gtest.h>

#include <cmath>
#include <iostream>
#include <sstream>
#include <string>
#include <vector>

#include "bagsplit/jobs/relay/detail/relay_world.hpp"
#include "bagsplit/jobs/relay/relay.hpp"
#include "bagsplit/motion/curve.hpp"
#include "bagsplit/runs/log/run_log.hpp"
#include "bagsplit/runs/typed.hpp"
#include "bagsplit/stats/random.hpp"

namespace {

using namespace bagsplit;

// The model of the draws, and the file that says so.
constexpr double effort = 0.02, day = 0.015, reaction_scatter_s = 0.06, start_sd_s = 0.06, split_sd_s = 0.05;
const char* const model =
    R"({"prior":{"log_top_speed":{"mean":1.8,"sd":0.1},"log_time_constant":{"mean":0.0,"sd":0.12},"reaction_s":{"mean":0.3,"sd":0.06},)"
    R"("segment_loss_s":{"first":{"mean":0.35,"sd":0.15},"second-stop":{"mean":0.8,"sd":0.2}}},)"
    R"("error":{"bias_s":0,"effort_cv":0.02,"day_cv":0.015,"reaction_sd_s":0.06,"start_sd_s":0.06,"split_sd_s":0.05}})";
constexpr double length_m = 2 * 60 * 0.3048;

struct Child {
  double straight_s, losses_s, reaction_s, exchange_s;
  double moving_s() const { return straight_s + losses_s; }
};

std::string time_text(double s) {
  return runs::format_number(std::round(s * 1e4) / 1e4);
}

struct World {
  std::vector<Child> children;
  std::vector<double> exchange_s, against_s;  // of the legs
  std::string log;
  double next_total_s = 0.0;
};

World draw(std::uint64_t seed, std::size_t legs) {
  stats::RandomStream random(seed);
  const auto normal = [&](double mean, double sd) { return mean + sd * random.normal(); };
  World world;
  std::ostringstream log;
  log << "# base-distance: 60 ft\n# start: signal\ndate,team,leg,player,course,trial,timer,second\n";
  const double common = normal(0.0, jobs::exchange_common_sd_s);
  for (std::size_t i = 0; i < legs; ++i) {
    const motion::Sprint sprint{std::exp(normal(1.8, 0.1)), std::exp(normal(0.0, 0.12))};
    const double losses = normal(0.35, 0.15) + normal(0.8, 0.2);
    world.children.push_back({motion::time_to_distance(sprint, length_m), losses, normal(0.3, 0.06),
                              0.3 + common + normal(0.0, jobs::exchange_own_sd_s)});
    for (int date = 1; date <= 3; ++date) {
      const double form = normal(0.0, day);
      for (int trial = 1; trial <= 2; ++trial) {
        const Child& c = world.children.back();
        const double read = c.straight_s * (1.0 + form + normal(0.0, effort)) + c.losses_s +
                            normal(c.reaction_s, reaction_scatter_s) + normal(0.0, start_sd_s) +
                            normal(0.0, split_sd_s);
        log << "2026-05-0" << date << ",,," << i + 1 << ",home-second," << trial << ",AK," << time_text(read) << '\n';
      }
    }
  }
  const auto run_leg = [&](const Child& c, bool first, double& start) {
    start = first ? normal(c.reaction_s, reaction_scatter_s) : normal(c.exchange_s, jobs::exchange_scatter_s);
    return start + c.straight_s * (1.0 + normal(0.0, day) + normal(0.0, effort)) + c.losses_s;
  };
  double clock = 0.0;
  const double press = normal(0.0, start_sd_s);
  for (std::size_t i = 0; i < legs; ++i) {
    double start = 0.0;
    const Child& c = world.children[i];
    const double leg = run_leg(c, i == 0, start);
    clock += leg;
    world.exchange_s.push_back(start);
    world.against_s.push_back(leg - c.reaction_s - c.moving_s());
    log << "2026-06-01,red," << i + 1 << ',' << i + 1 << ",home-second,1,AK,"
        << time_text(clock + press + normal(0.0, split_sd_s)) << '\n';
  }
  for (std::size_t i = 0; i < legs; ++i) {
    double start = 0.0;
    world.next_total_s += run_leg(world.children[i], i == 0, start);
  }
  world.log = log.str();
  return world;
}

struct Coverage {
  int inside = 0, all = 0;
  void add(const jobs::Estimate& e, double truth) {
    ++all;
    inside += e.lo <= truth && truth <= e.hi ? 1 : 0;
  }
  double share() const { return static_cast<double>(inside) / all; }
};

// Identity: intervals of probability 0.9 hold nine truths of ten when worlds are drawn from the model itself. 300
// worlds of four legs: 900 exchanges, standard error 1%, or a little more since legs of one relay hang together.
TEST(RelayCalibration, NinetyPerCentHoldNinety) {
  Coverage exchange;
  Coverage against;
  Coverage total;
  jobs::RelayOptions options;
  text::Problems wrong;
  options.model = inference::read_model(model, "model.json", wrong);
  ASSERT_TRUE(wrong.empty());
  options.squad = false;
  options.draws = 10;
  for (std::uint64_t seed = 1; seed <= 300; ++seed) {
    const World world = draw(seed, 4);
    text::Problems problems;
    const jobs::RelayResult result =
        jobs::relay(runs::read_run_log(world.log, "log.csv").log, {}, timing::DeviceBook(), options, problems);
    ASSERT_EQ(result.runs.size(), 1U);
    for (std::size_t k = 0; k < 4; ++k) {
      const jobs::RelayLeg& leg = result.runs[0].legs[k];
      against.add(leg.against_own_runs_s.value(), world.against_s[k]);
      if (k > 0) {
        exchange.add(leg.exchange_s.value(), world.exchange_s[k]);
      }
    }
    total.add(result.expected.at(0).total_s, world.next_total_s);
  }
  EXPECT_NEAR(exchange.share(), 0.9, 0.04);
  EXPECT_NEAR(against.share(), 0.9, 0.04);
  EXPECT_NEAR(total.share(), 0.9, 0.055);
  std::cout << "exchange " << exchange.share() << ", against own runs " << against.share() << ", total "
            << total.share() << '\n';
}

}  // namespace
