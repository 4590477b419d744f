// One player's posterior with its quantiles: sizes from life.
#include <benchmark/benchmark.h>

#include <cmath>
#include <vector>

#include "bagsplit/inference/posterior/posterior.hpp"

namespace {

using namespace bagsplit::motion;
using namespace bagsplit::inference;

PlayerData player_with(int runs) {
  PlayerData data;
  data.log_top_speed = {std::log(6.0), 0.09};
  data.log_time_constant = {std::log(0.95), 0.2};
  data.terms = {{0.32, 0.08}, {0.3, 0.15}, {0.3, 0.15}, {0.3, 0.15}, {0.2, 0.15}, {-0.1, 0.1}};
  data.effort_cv = 0.02;
  data.day_cv = 0.015;
  data.reaction_sd_s = 0.05;
  constexpr double base_m = 18.288;
  constexpr double time_s[] = {4.05, 8.02, 12.1, 16.3};
  for (int i = 0; i < runs; ++i) {
    data.add_run(static_cast<std::uint32_t>(1 + i / 4));
    std::uint64_t terms = 1U | 32U;
    std::vector<MarkData> marks;
    for (int k = 0; k < 4; ++k) {
      terms |= std::uint64_t{2} << k;
      marks.push_back({base_m * (k + 1), time_s[k] + 0.03 * ((i * 7 + k * 3) % 5 - 2), 0.07, terms});
    }
    data.add_reading(true, 0.0, 0.05, marks);
  }
  return data;
}

// V, tau, V/tau, reaction and four losses, each with mean, SD, median and a 90% interval.
void posterior_with_quantiles(benchmark::State& state) {
  const PlayerData data = player_with(static_cast<int>(state.range(0)));
  std::vector<double> values;
  for (auto _ : state) {
    const Posterior posterior(data);
    values.resize(posterior.size());
    const auto summary = [&](auto&& function) {
      for (std::size_t i = 0; i < posterior.size(); ++i) {
        values[i] = function(posterior.sprints()[i]);
      }
      return posterior.of_sprint(values, 0.9, 1.0);
    };
    benchmark::DoNotOptimize(summary([](const Sprint& s) { return s.top_speed_mps; }));
    benchmark::DoNotOptimize(summary([](const Sprint& s) { return s.time_constant_s; }));
    benchmark::DoNotOptimize(summary([](const Sprint& s) { return s.max_acceleration_mps2(); }));
    for (std::uint32_t term = 0; term < 5; ++term) {
      benchmark::DoNotOptimize(posterior.of_terms(std::span(&term, 1), 0.9));
    }
  }
}
BENCHMARK(posterior_with_quantiles)->Arg(3)->Arg(10)->Arg(60)->Arg(200)->Unit(benchmark::kMicrosecond);

void time_to_distance_20m(benchmark::State& state) {
  double tau = 0.9;
  for (auto _ : state) {
    tau = tau < 1.2 ? tau + 1e-6 : 0.9;
    benchmark::DoNotOptimize(time_to_distance({6.1, tau}, 20.0));
  }
}
BENCHMARK(time_to_distance_20m);

}  // namespace
