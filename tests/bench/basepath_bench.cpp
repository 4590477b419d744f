// The best path from scratch, and the loss table. A circuit must take under 10 ms at 0.1% of the optimum.
#include <benchmark/benchmark.h>

#include <cmath>

#include "bagsplit/basepath/path.hpp"
#include "bagsplit/basepath/surrogate.hpp"

namespace {

using namespace bagsplit;
using namespace bagsplit::basepath;

const runs::Course& course(const char* name) {
  return *runs::find_course(runs::builtin_courses(), name);
}

void solve(benchmark::State& state, const char* name, double base_m, const Limits& limits) {
  const PathProblem problem = course_problem(course(name), base_m, limits);
  PathResult result;
  for (auto _ : state) {
    result = best_path(problem);
    benchmark::DoNotOptimize(result.total_s);
  }
  PathOptions finest;
  finest.aim = 0.0;
  const double fine_s = best_path(problem, finest).total_s;
  state.counters["total_s"] = result.total_s;
  state.counters["off_percent"] = 100.0 * std::fabs(result.total_s / fine_s - 1.0);
  state.counters["certified"] = result.usable() ? 1.0 : 0.0;
}

BENCHMARK_CAPTURE(solve, circuit_child, "circuit", 18.288, RunnerLimits{6.2, 0.85, 5.0, 4.0})
    ->Unit(benchmark::kMillisecond);
BENCHMARK_CAPTURE(solve, circuit_small_child, "circuit", 15.24, RunnerLimits{4.0, 0.6, 4.0, 3.0})
    ->Unit(benchmark::kMillisecond);
BENCHMARK_CAPTURE(solve, circuit_adult, "circuit", 27.432, RunnerLimits{9.0, 1.1, 4.0, 3.0})
    ->Unit(benchmark::kMillisecond);
BENCHMARK_CAPTURE(solve, circuit_point_mass, "circuit", 27.432, PointMassLimit{3.048})->Unit(benchmark::kMillisecond);
BENCHMARK_CAPTURE(solve, double_child, "home-second", 18.288, RunnerLimits{6.2, 0.85, 4.0, 3.0})
    ->Unit(benchmark::kMillisecond);
BENCHMARK_CAPTURE(solve, triple_child, "home-third", 18.288, RunnerLimits{6.2, 0.85, 4.0, 3.0})
    ->Unit(benchmark::kMillisecond);

void loss_lookup(benchmark::State& state) {
  const LossSurface loss = *LossTable::built_in().course_loss(course("circuit"), 18.288, 4.0);
  double log_top_speed = 1.5;
  for (auto _ : state) {
    benchmark::DoNotOptimize(loss(log_top_speed, -0.2));
    log_top_speed = log_top_speed < 2.2 ? log_top_speed + 1e-6 : 1.5;
  }
}
BENCHMARK(loss_lookup);

void load_table(benchmark::State& state) {
  for (auto _ : state) {
    benchmark::DoNotOptimize(LossTable::built_in().certified_share());
  }
}
BENCHMARK(load_table)->Unit(benchmark::kMillisecond);

}  // namespace
