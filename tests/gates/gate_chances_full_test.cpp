// Common practice, no source: how many runs of files made here by a seeded generator (our own invention) may get a
// wrong time.
#include <gtest/gtest.h>

#include <cmath>
#include <map>

#include "bagsplit/gates/gate_runs.hpp"
#include "record/simulated_recorders.hpp"

// Two hundred invented gate logs of a kind each, from the passages to the names: another child's time under a name, and
// runs that a beam at the start and one at a mark saw, and that nobody was given.
// Targets: common practice, no source; the figures measured stand in the commit that brought this.
namespace {

using namespace bagsplit;

struct GatePlan {
  std::size_t rounds = 1;
  double miss = 0.02, stray = 0.03, twice = 0.05, no_show = 0.0;
  bool everybody_ran = false;
  bool earlier_times = false;  // each child's level is known beforehand, give or take 3 %
};

struct TrueRun {
  std::size_t child = 0;
  double at_s[3] = {0.0, 0.0, 0.0};
  bool seen[3] = {false, false, false};
};

struct Gated {
  gates::GateLog log;
  gates::StartList starts;
  std::vector<gates::ExpectedLevel> expected;
  std::vector<TrueRun> truth;
  std::vector<std::ptrdiff_t> run_of;  // by line of the log
};

Gated gated(std::uint64_t seed, const GatePlan& plan, std::size_t n) {
  std::mt19937_64 draw(seed);
  const auto children = test::sprinting_children(draw, n);
  Gated out;
  out.log.path = "gates.csv";
  out.starts.path = "starts.csv";
  out.starts.everybody_ran = plan.everybody_ran;
  std::mt19937_64 of_levels(seed + 500'000'000);  // of its own: the files are the same without
  for (std::size_t c = 0; c < n && plan.earlier_times; ++c) {
    const double time_s = test::sprint_s(children[c], 18.788) - test::sprint_s(children[c], 0.5);
    out.expected.push_back({"k" + std::to_string(c), std::log(time_s) + test::normal(of_levels, 0.0, 0.03), 0.04});
  }
  struct Seen {
    int gate;
    double t_s;
    std::ptrdiff_t run;
  };
  std::vector<Seen> seen;
  double now_s = 1000.0;
  const double marks_m[] = {0.0, 9.144, 18.288};
  for (std::size_t line = 0; line < plan.rounds * n; ++line) {
    const std::size_t child = line % n;
    gates::StartEntry& entry = out.starts.entries.emplace_back();
    entry.player = "k" + std::to_string(child);
    entry.line = line + 2;
    if (test::uniform(draw) < plan.no_show) {
      continue;
    }
    now_s += test::uniform(draw, 12.0, 30.0);
    const double form = children[child].day * std::exp(test::normal(draw, 0.0, 0.018));
    TrueRun& run = out.truth.emplace_back();
    run.child = child;
    const auto number = static_cast<std::ptrdiff_t>(out.truth.size()) - 1;
    for (int g = 0; g < 3; ++g) {
      run.at_s[g] = now_s + test::sprint_s(children[child], 0.5 + marks_m[g]) * form;
      run.seen[g] = test::uniform(draw) >= plan.miss;
      if (run.seen[g] && test::uniform(draw) < plan.twice) {
        seen.push_back({g, run.at_s[g] - test::uniform(draw, 0.05, 0.12), number});
      }
      if (run.seen[g]) {
        seen.push_back({g, run.at_s[g], number});
      }
    }
    if (test::uniform(draw) < plan.stray) {
      seen.push_back(
          {static_cast<int>(test::below(draw, 3)), now_s + test::uniform(draw, seed % 2 == 1 ? 1.0 : 4.0, 10.0), -1});
    }
  }
  std::stable_sort(seen.begin(), seen.end(), [](const Seen& a, const Seen& b) { return a.t_s < b.t_s; });
  out.run_of.assign(seen.size() + 2, -1);
  for (const Seen& one : seen) {
    gates::GatePassage& passage = out.log.passages.emplace_back();
    passage.gate = std::string(1, static_cast<char>('A' + one.gate));
    passage.time_ns = std::llround(one.t_s * 1e9);
    passage.line = out.log.passages.size() + 1;
    out.run_of[passage.line] = one.run;
  }
  return out;
}

struct GateTally {
  std::size_t wrong = 0, files = 0, good = 0, named = 0, late = 0;
};

GateTally measured(const GatePlan& plan, std::uint64_t seed, const char* name) {
  text::Problems problems;
  const gates::GateMap map = gates::read_gate_map("# start: beam 0.5 m\ngate,mark\nA,start\nB,9.144m\nC,18.288m\n",
                                                  "map.csv", runs::builtin_courses(), problems);
  GateTally out;
  for (std::size_t file = 0; file < 200; ++file) {
    const Gated made = gated(seed + file, plan, 60 + file % 21);
    const gates::GateRuns got =
        gates::sort_into_runs(made.log, made.starts, map, {.expected = made.expected}, problems);
    std::size_t wrong = 0;
    for (const gates::GateRun& run : got.runs) {
      if (run.flag != runs::Flag::none || run.start_line == 0) {
        continue;
      }
      const std::ptrdiff_t number = made.run_of[run.start_line];
      const TrueRun* own = number >= 0 ? &made.truth[static_cast<std::size_t>(number)] : nullptr;
      bool any = false;
      for (std::size_t k = 0; k < 2; ++k) {
        if (!run.at_ns[k]) {
          continue;
        }
        const double t_s = static_cast<double>(*run.at_ns[k]) / 1e9;
        if (own == nullptr || "k" + std::to_string(own->child) != run.player) {
          ++wrong;
        } else if (std::fabs(t_s - (own->at_s[k + 1] - own->at_s[0])) < 0.002) {
          any = true;
        } else {
          ++out.late;
        }
      }
      out.named += any ? 1U : 0U;
    }
    for (const TrueRun& run : made.truth) {
      out.good += run.seen[0] && (run.seen[1] || run.seen[2]) ? 1U : 0U;
    }
    out.wrong += wrong;
    out.files += wrong > 0 ? 1U : 0U;
  }
  std::printf(
      "%s: %zu times of another child in %zu files, %.2f %% of %zu good runs void, %zu times wrong by a passer-by\n",
      name, out.wrong, out.files, 100.0 * (1.0 - static_cast<double>(out.named) / static_cast<double>(out.good)),
      out.good, out.late);
  return out;
}

double void_share(const GateTally& got) {
  return 1.0 - static_cast<double>(got.named) / static_cast<double>(got.good);
}

// Source: the targets of this project: 3 % passers-by and 2 % missed beams, everybody ran: no other child's time, under
// 4 % of good runs void; two rounds without that word under 2 %.
TEST(GateChances, APasserByOrAMissedBeamCostsTheRunInDoubtNotTheFile) {
  const GateTally told = measured({.everybody_ran = true}, 5'100'001, "one round, everybody ran");
  EXPECT_EQ(told.wrong, 0U);
  EXPECT_LT(void_share(told), 0.04);
  const GateTally twice = measured({.rounds = 2}, 5'110'001, "two rounds");
  EXPECT_EQ(twice.wrong, 0U);
  EXPECT_LT(void_share(twice), 0.02);
}

// Source: as above: with 2 % of the lines not run and nothing known of it at most 4 times of another child.
TEST(GateChances, UntoldAbsencesAreRatherVoidThanWrong) {
  EXPECT_LE(measured({.no_show = 0.02}, 5'120'001, "one round, 2 % not run").wrong, 4U);
  EXPECT_LE(measured({.rounds = 2, .no_show = 0.02}, 5'130'001, "two rounds, 2 % not run").wrong, 4U);
}

// Source: as above, and measured with a prototype of its own in NumPy: with earlier times of the children 9.2 % of good
// runs void in place of 80 %, no other child's time at 0.99.
TEST(GateChances, EarlierTimesNameMost) {
  const GateTally got =
      measured({.no_show = 0.02, .earlier_times = true}, 5'140'001, "one round, 2 % not run, earlier times");
  EXPECT_LE(got.wrong, 4U);
  EXPECT_LT(void_share(got), 0.13);
}

}  // namespace
