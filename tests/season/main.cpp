// The season model over worlds with truth, printed: season_calibration [SEASONS [SEED]]
#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <string>

#include "season/world.hpp"

namespace {

using bagsplit::test::Score;

void print(const std::string& name, const Score& s) {
  std::printf("%-16s %5d %5d | surely %3d/%3d probably %3d/%3d leaning %3d/%3d | cover %.3f %.3f | AUC %.3f",
              name.c_str(), s.children, s.changed, s.surely.right, s.surely.wrong, s.probably.right, s.probably.wrong,
              s.leaning.right, s.leaning.wrong, s.coverage(), s.changed > 0 ? s.coverage_changed() : NAN,
              s.p_of_faster.empty() ? NAN : s.auc_faster());
  std::printf(" | swaps %d of %d, elsewhere %d, named %d", s.swaps_found, s.swaps, s.evenings_elsewhere,
              s.swapped_named);
  std::printf(" | slips %d of %d, elsewhere %d of %d, named %d | last %.4f mean %.4f s | ground z %.2f\n",
              s.slips_found, s.slips, s.suspected_elsewhere, s.readings, s.slipped_named,
              std::sqrt(s.last_error2 / s.children), std::sqrt(s.mean_error2 / s.children),
              std::sqrt(s.ground_z2 / s.seasons));
  std::fflush(stdout);
}

}  // namespace

int main(int argc, char** argv) {
  const int seasons = argc > 1 ? std::atoi(argv[1]) : 20;
  const auto seed = argc > 2 ? std::strtoull(argv[2], nullptr, 10) : 5000ULL;
  Score pooled;
  for (const auto& world : bagsplit::test::changing_worlds()) {
    const auto s = bagsplit::test::score(world, seasons, seed, 0);
    print(world.name, s);
    pooled.add(s);
  }
  print("pooled", pooled);
  const double edges[] = {0.0, 0.05, 0.1, 0.2, 0.35, 0.5, 0.7, 0.9, 0.97, 1.000001};
  for (int k = 0; k < 9; ++k) {
    double p = 0.0, is_true = 0.0;
    int n = 0;
    for (const auto& said : pooled.said) {
      if (said.p >= edges[k] && said.p < edges[k + 1]) {
        p += said.p;
        is_true += said.is_true ? 1.0 : 0.0;
        ++n;
      }
    }
    std::printf("  said %.3f, true %.3f (%d)\n", p / n, is_true / n, n);
  }
  for (const char* name : {"wind_turns", "ground", "timer", "device", "long", "squad", "slip_1.0", "slip_0.7",
                           "slip_-0.7", "swapped", "nine_months", "still"}) {
    print(name, bagsplit::test::score(bagsplit::test::named(name), seasons, seed, 0));
  }
  return 0;
}
