// The season model at sizes from life: a squad, a league. Invented: levels, form and effort drawn, nobody changes.
#include <benchmark/benchmark.h>

#include <cmath>

#include "bagsplit/inference/season/fit.hpp"
#include "bagsplit/stats/random.hpp"

namespace {

namespace season = bagsplit::season;

/// Ten dates, three runs each over 60 ft by one watch, a child in twenty absent.
season::Season season_of(int children) {
  bagsplit::stats::RandomStream random(7);
  season::Season out;
  for (int date = 0; date < 10; ++date) {
    out.days.push_back(9.0 * date);
  }
  out.levels.push_back({.distance_m = 18.288});
  out.timers.push_back({0.05});
  out.devices.push_back({0.14});
  for (int child = 0; child < children; ++child) {
    out.children.push_back({.age_yr = 8.0 + 7.0 * random.uniform(), .sex = season::Sex::female});
    const double moving_s = 3.8 + 0.3 * random.normal();
    for (int date = 0; date < 10; ++date) {
      if (random.uniform() < 0.05) {
        continue;
      }
      const double form = 0.012 * random.normal();
      for (int run = 0; run < 3; ++run) {
        const double share = form + 0.018 * random.normal();
        const double time_s = 0.32 + moving_s * std::exp(share) + 0.09 * random.normal();
        out.readings.push_back({.child = child,
                                .date = date,
                                .run = run,
                                .time_s = time_s,
                                .mark_sd_s = 0.057,
                                .start_sd_s = 0.057,
                                .reaction_sd_s = 0.05});
      }
    }
  }
  return out;
}

void fit_and_tell(benchmark::State& state) {
  const auto data = season_of(static_cast<int>(state.range(0)));
  season::Options options;
  options.threads = static_cast<unsigned>(state.range(1));
  for (auto _ : state) {
    benchmark::DoNotOptimize(season::fit_season(data, options).changes());
  }
  state.counters["readings"] = static_cast<double>(data.readings.size());
}
BENCHMARK(fit_and_tell)
    ->ArgNames({"children", "threads"})
    ->ArgsProduct({{12, 40, 1000}, {1, 2}})
    ->Unit(benchmark::kMillisecond)
    ->UseRealTime()
    ->MeasureProcessCPUTime();

}  // namespace
