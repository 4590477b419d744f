// Reading a run log: rows a second, and memory a row.
#include <benchmark/benchmark.h>

#include <string>

#include "bagsplit/runs/log/run_log.hpp"

namespace {

std::string log_of(int rows) {
  std::string text = "# base-distance: 60 ft\ndate,player,course,timer,first,second,third,home,flag,note\n";
  for (int i = 0; i < rows; ++i) {
    const auto tenth = [&](int whole) {
      return std::to_string(whole) + "." + std::to_string(10 + (i * 7 + whole) % 90);
    };
    text += "2026-04-" + std::to_string(10 + i % 20) + "," + std::to_string(i % (rows / 16 + 1)) + ",circuit,AK," +
            tenth(4) + "," + tenth(8) + "," + tenth(12) + "," + tenth(16) + ",,\n";
  }
  return text;
}

void read_log(benchmark::State& state) {
  const std::string text = log_of(static_cast<int>(state.range(0)));
  for (auto _ : state) {
    const bagsplit::runs::RunLogResult result = bagsplit::runs::read_run_log(text, "bench.csv");
    benchmark::DoNotOptimize(result.log.runs.data());
    const auto& log = result.log;
    state.counters["bytes_per_row"] = static_cast<double>(log.runs.capacity() * sizeof(log.runs[0]) +
                                                          log.readings.capacity() * sizeof(log.readings[0]) +
                                                          log.splits.capacity() * sizeof(log.splits[0])) /
                                      static_cast<double>(state.range(0));
  }
  state.SetItemsProcessed(state.iterations() * state.range(0));
  state.SetBytesProcessed(state.iterations() * static_cast<int64_t>(text.size()));
}
BENCHMARK(read_log)->Arg(200)->Arg(20000)->Arg(200000)->Unit(benchmark::kMillisecond);

}  // namespace
