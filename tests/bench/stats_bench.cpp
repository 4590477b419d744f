// Speed of the statistics at sizes from life: a squad of 12 and of 200.
#include <benchmark/benchmark.h>

#include <cmath>
#include <vector>

#include "bagsplit/stats/icc.hpp"
#include "bagsplit/stats/random.hpp"
#include "bagsplit/stats/univariate.hpp"

namespace {

namespace stats = bagsplit::stats;

std::vector<double> values(std::size_t n) {
  stats::RandomStream random(2);
  std::vector<double> out(n);
  for (double& v : out) {
    v = random.normal();
  }
  return out;
}

void mean_and_variance(benchmark::State& state) {
  const auto x = values(static_cast<std::size_t>(state.range(0)));
  for (auto _ : state) {
    benchmark::DoNotOptimize(stats::variance(x));
  }
}
BENCHMARK(mean_and_variance)->Arg(3)->Arg(60)->Arg(1'000'000);

void six_coefficients(benchmark::State& state) {
  const auto x = values(static_cast<std::size_t>(state.range(0)) * 3);
  for (auto _ : state) {
    benchmark::DoNotOptimize(stats::reliability(x, 3));
  }
}
BENCHMARK(six_coefficients)->Arg(12)->Arg(200)->Unit(benchmark::kMicrosecond);

}  // namespace
