// Calibration of `profile` with the squad's model, printed: squad_calibration [SQUADS [SEED]]
// The same where some numbers are wrong: squad_calibration slips [SQUADS [SEED]]
//
// Source: Talts, Betancourt, Simpson, Vehtari & Gelman (2018), simulation-based calibration, arXiv:1804.06788.
#include <cstdio>
#include <cstdlib>
#include <string>

#include "squad_calibration/slips.hpp"
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
  std::printf("  sure marks: %d of %d right\n", result.sure_marks_right, result.sure_marks);
  std::printf("  not certified: %d\n", result.not_certified);
}

void print_group(const char* who, const std::map<std::string, bagsplit::test::Interval>& group) {
  for (const char* name : {"loss", "time_constant_s", "top_speed_mps", "home-first"}) {
    if (const auto found = group.find(name); found != group.end()) {
      const bagsplit::test::Interval& interval = found->second;
      std::printf("  %-8s %-16s %6d %7.1f%% %7.1f%% %+7.1f%%\n", who, name, interval.slipped.count,
                  100.0 * interval.slipped.share(), 100.0 * interval.clean.share(),
                  100.0 * (interval.width_of(interval.slipped.count) - 1.0));
    }
  }
}

void print_slips(const bagsplit::test::SlipCalibration& result) {
  print_group("hit", result.hit);
  print_group("not hit", result.not_hit);
  const auto percent = [](int part, int of) { return of > 0 ? 100.0 * part / of : 0.0; };
  std::printf("  of %d slips at a mark: row named %.0f%%, cell %.0f%%; on a straight row %.0f%% of %d\n", result.slips,
              percent(result.rows_named, result.slips), percent(result.cells_named, result.slips),
              percent(result.straight_named, result.straight), result.straight);
  std::printf("  false names %d in %d right readings; cells named %d, right %.0f%%\n", result.false_names,
              result.clean_readings, result.cells, percent(result.cells_right, result.cells));
  std::printf("  bag to work on: %d, falsely %d; without slips %d\n  not certified: %d\n", result.advised,
              result.advised_falsely, result.advised_clean, result.not_certified);
}

int slips_main(int squads, std::uint64_t seed) {
  using bagsplit::test::Nights;
  std::printf(
      "%d squads each, seed %llu; coverage with slips, of the same children without (rate 0: without the mixture), "
      "width\n",
      squads, static_cast<unsigned long long>(seed));
  for (const Nights nights : {Nights::drills, Nights::gates}) {
    for (const bagsplit::test::Slips slips : {bagsplit::test::Slips{0.0, 0.0},
                                              {0.02, 0.3},
                                              {0.02, 0.5},
                                              {0.02, 1.0},
                                              {0.05, 0.3},
                                              {0.05, 0.5},
                                              {0.05, 1.0}}) {
      std::printf("%s, %.0f%% of %.1f s\n", nights == Nights::gates ? "gates" : "watch", 100.0 * slips.rate,
                  slips.size_s);
      print_slips(bagsplit::test::calibrate_slips(squads, seed, nights, slips, 0));
      std::fflush(stdout);
    }
  }
  return 0;
}

}  // namespace

int main(int argc, char** argv) {
  if (argc > 1 && std::string(argv[1]) == "slips") {
    return slips_main(argc > 2 ? std::atoi(argv[2]) : 44, argc > 3 ? std::strtoull(argv[3], nullptr, 10) : 20261201ULL);
  }
  const int squads = argc > 1 ? std::atoi(argv[1]) : 1000;
  const auto seed = argc > 2 ? std::strtoull(argv[2], nullptr, 10) : 20260502ULL;
  std::printf("%d squads, seed %llu; 90%% intervals\n", squads, static_cast<unsigned long long>(seed));
  print("as the priors say", bagsplit::test::calibrate(squads, seed, {}, 0));
  print("squads 10% slower than the norms", bagsplit::test::calibrate(squads / 4, seed + 1, {-0.1, 0.0}, 0));
  print("reactions 0.05 s longer than the norms", bagsplit::test::calibrate(squads / 4, seed + 2, {0.0, 0.05}, 0));
}
