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
  std::printf("  losses said to be above 0.10 s: %d, below in truth: %d\n", result.losses_said, result.losses_false);
  std::printf("  of %d squads: clock starts late %d, early %d; level told %d\n", result.squads, result.starts_late,
              result.starts_early, result.level_told);
  std::printf("  of %d players: first acceleration shown %d, surely slowest tenth %d\n", result.players, result.shown,
              result.first_steps);
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
  struct World {
    const char* title;
    bagsplit::test::WrongPrior wrong;
  };
  for (const World& world :
       {World{"mixed drills, as the priors say", {.mixed = true}},
        World{"tau 0.8-1.1 s at every age", {.mixed = true, .any_time_constant = true}},
        World{"late slowing 0.016", {.mixed = true, .late_slowing_per_s = 0.016}},
        World{"no late slowing", {.mixed = true, .late_slowing_per_s = 0.0}},
        World{"1 % slower each run", {.mixed = true, .slower_each_run = 0.01}},
        World{"losses and speed", {.loss_slope_s = 2.2, .mixed = true}},
        World{"self-started clocks 0.30 s late", {.mixed = true, .self_start_s = -0.30}},
        World{"0.35 s of reaction in self-started times", {.mixed = true, .self_start_s = 0.35}}}) {
    print(world.title, bagsplit::test::calibrate(squads / 10, seed + 3, world.wrong, 0));
  }
}
