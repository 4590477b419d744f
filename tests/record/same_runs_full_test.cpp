// Common practice, no source: how many runs of files made here by a seeded generator (our own invention) may get a
// wrong time.
#include <gtest/gtest.h>

#include <cmath>
#include <map>
#include <optional>
#include <set>

#include "simulated_recorders.hpp"

// Two hundred invented evenings of a kind each: what a coach would publish, against what a perfect join of the same
// readings gives. Targets: common practice, no source; the figures measured stand in the commit that brought this.
namespace {

using namespace bagsplit;
using record::detail::EntryAt;

struct Tally {
  std::size_t children = 0, wrong_untold = 0, wrong_untold_003 = 0, questions = 0, clean = 0, clean_told = 0;
};

using Bests = std::map<std::uint32_t, double>;

void take_best(Bests& bests, std::uint32_t who, const test::Recorded& evening, std::span<const EntryAt> entries) {
  double sum = 0.0;
  for (const EntryAt at : entries) {
    sum += evening.logs[at.recorder][at.entry].times.back().time_s;
  }
  const double mean = sum / static_cast<double>(entries.size());
  const auto [best, is_new] = bests.try_emplace(who, mean);
  best->second = std::min(best->second, mean);
}

void tally(const test::Recorded& evening, Tally& out) {
  const auto got = record::detail::same_runs(evening.logs);
  std::map<std::size_t, std::vector<EntryAt>> true_runs;
  std::set<std::uint32_t> touched;
  for (std::uint32_t r = 0; r < evening.logs.size(); ++r) {
    for (std::uint32_t k = 0; k < evening.logs[r].size(); ++k) {
      const std::size_t run = evening.run_of[r][k];
      true_runs[run].push_back({r, k});
      if (evening.logs[r][k].bib != evening.who[run]) {
        touched.insert({evening.logs[r][k].bib, evening.who[run]});
      }
    }
  }
  Bests right;
  for (const auto& [run, entries] : true_runs) {
    take_best(right, evening.who[run], evening, entries);
  }
  for (std::size_t run = 0; run < evening.who.size(); ++run) {
    if (true_runs[run].size() < evening.logs.size()) {
      touched.insert(evening.who[run]);
    }
  }
  Bests found;
  for (const auto& run : got.runs) {
    take_best(found, record::detail::bib_of_run(evening.logs, run), evening, run);
  }
  std::set<std::uint32_t> told;
  std::set<std::set<std::pair<std::uint32_t, std::uint32_t>>> asked;
  for (const auto& question : got.questions) {
    std::set<std::pair<std::uint32_t, std::uint32_t>> entries;
    for (const EntryAt at : question.entries) {
      told.insert(evening.logs[at.recorder][at.entry].bib);
      entries.insert({at.recorder, at.entry});
    }
    if (question.bib != 0) {
      told.insert(question.bib);
    }
    asked.insert(entries);
  }
  out.questions += asked.size();
  for (const auto& [child, best_s] : right) {
    ++out.children;
    const double off_s = found.count(child) > 0 ? std::fabs(found[child] - best_s) : 99.0;
    out.wrong_untold += off_s > 0.004 && !told.contains(child) ? 1U : 0U;
    out.wrong_untold_003 += off_s > 0.03 && !told.contains(child) ? 1U : 0U;
    out.clean += touched.contains(child) ? 0U : 1U;
    out.clean_told += !touched.contains(child) && told.contains(child) ? 1U : 0U;
  }
}

Tally measured(test::RecordedEvening plan, std::uint64_t seed, const char* name) {
  Tally out;
  for (std::size_t file = 0; file < 200; ++file) {
    plan.children = 60 + file % 21;
    tally(test::recorded_evening(seed + file, plan), out);
  }
  std::printf(
      "%s: %zu of %zu children wrong and not told (%zu by over 0.03 s), %.1f questions a file, %.2f %% of "
      "untouched children asked about\n",
      name, out.wrong_untold, out.children, out.wrong_untold_003, static_cast<double>(out.questions) / 200.0,
      100.0 * static_cast<double>(out.clean_told) / static_cast<double>(out.clean));
  return out;
}

// Source: the targets of this project: of some 14,000 children at most one wrong best that nobody is asked about, in
// rounds with 1 to 5 % of runs missed by each; at most 9 questions a file.
TEST(SameRuns, RoundsAreRightOrAskedAbout) {
  std::uint64_t seed = 4'100'001;
  for (const double miss : {0.01, 0.02, 0.05}) {
    const Tally got = measured({.miss = miss}, seed, "rounds");
    EXPECT_LE(got.wrong_untold, 1U) << miss;
    EXPECT_LE(got.questions, 9U * 200U) << miss;
    seed += 1000;
  }
}

// Source: as above; four marks in place of one, and the clock.
TEST(SameRuns, MoreMarksAndTheClockDoNoHarm) {
  const Tally marks = measured({.miss = 0.05, .marks_m = {5.0, 9.144, 18.288, 27.432}}, 4'200'001, "four marks");
  EXPECT_LE(marks.wrong_untold, 3U);
  const Tally clock = measured({.miss = 0.05, .clock = true}, 4'210'001, "rounds, clock");
  EXPECT_LE(clock.wrong_untold, 1U);
  const Tally three = measured({.recorders = 3, .miss = 0.05}, 4'220'001, "three recorders");
  EXPECT_LE(three.wrong_untold, 1U);
}

// Source: as above: of children who run twice in succession, less than 0.25 % wrong by more than 0.03 s and not asked
// about; the clock, which parts their runs, halves that at least.
TEST(SameRuns, BackToBackIsNearlyRightAndTheClockHelps) {
  const Tally without = measured({.order = test::RunOrder::back_to_back, .miss = 0.05}, 4'300'001, "back to back");
  const Tally with =
      measured({.order = test::RunOrder::back_to_back, .miss = 0.05, .clock = true}, 4'300'001, "back to back, clock");
  EXPECT_LT(without.wrong_untold_003, without.children / 400);
  EXPECT_LT(2 * with.wrong_untold, without.wrong_untold);
}

}  // namespace
