// Calibration of `profile` with the squad's model, printed: squad_calibration [SQUADS [SEED]]
//
// Source: Talts, Betancourt, Simpson, Vehtari & Gelman (2018), simulation-based calibration, arXiv:1804.06788.
#include <cstdio>
#include <cstdlib>
#include <string>

#include "squad_calibration/world.hpp"

namespace {

void print(const char* title, const bagsplit::test::Calibration& result) {
  std::printf("%s\n  %-18s %8s %9s %12s\n", title, "quantity", "players", "covered", "chi-square");
  for (const auto& [name, coverage] : result.quantities) {
    std::printf("  %-18s %8d %8.1f%% %12.1f   (5 degrees; parts", name.c_str(), coverage.count,
                100.0 * coverage.share(), coverage.chi_square());
    for (const int n : coverage.parts) {
      std::printf(" %d", n);
    }
    std::printf(")\n");
  }
  if (result.three_runs > 0) {
    std::printf(
        "  three runs, tonight's mean home-first time: %d players, covered %.1f%%, width %.3f s, own t-interval "
        "%.3f s: %.0f%% narrower\n",
        result.three_runs, 100.0 * result.three_run_coverage.share(), result.model_width_s / result.three_runs,
        result.own_width_s / result.three_runs, 100.0 * (1.0 - result.model_width_s / result.own_width_s));
  }
  std::printf("  not certified: %d\n", result.not_certified);
}

}  // namespace

int main(int argc, char** argv) {
  const int squads = argc > 1 ? std::atoi(argv[1]) : 1000;
  const auto seed = argc > 2 ? std::strtoull(argv[2], nullptr, 10) : 20260502ULL;
  std::printf("%d squads, seed %llu; 90%% intervals\n", squads, static_cast<unsigned long long>(seed));
  print("as the priors say", bagsplit::test::calibrate(squads, seed, {}, 0));
  print("squads 10% slower than the norms", bagsplit::test::calibrate(squads / 4, seed + 1, {-0.1, 0.0}, 0));
  print("reactions 0.05 s longer than the norms", bagsplit::test::calibrate(squads / 4, seed + 2, {0.0, 0.05}, 0));
}
