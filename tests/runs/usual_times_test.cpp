#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <random>
#include <set>
#include <string>
#include <tuple>
#include <vector>

#include "bagsplit/runs/log/run_log.hpp"
#include "support/invented_sheet.hpp"

namespace {

using namespace bagsplit;
using Sheet = test::InventedSheet;
using Row = test::InventedRow;
using Scatter = test::InventedScatter;

constexpr Scatter rough{0.1, 0.05, 0.15};

// The lines that a suspicion or an error names, and in how many cells.
std::multiset<std::size_t> named(const std::string& text) {
  std::multiset<std::size_t> lines;
  for (const text::Problem& problem : runs::read_run_log(text, "a.csv").problems) {
    if (problem.severity != text::Severity::note) {
      lines.insert(problem.line);
    }
  }
  return lines;
}

enum class Slip : std::uint8_t { units, tenths, transposed };

// One figure of one time made wrong.  @return false where that time has none to make wrong.
bool spoil(std::string& typed, Slip slip, std::mt19937& draw) {
  const std::size_t point = typed.find('.');
  const std::size_t at = slip == Slip::units ? point - 1 : point + 1;
  if (slip == Slip::transposed) {
    const std::size_t with = point - 1;
    if (typed[with] == typed[at]) {
      return false;
    }
    std::swap(typed[with], typed[at]);
    return true;
  }
  const char old = typed[at];
  while (typed[at] == old) {
    typed[at] = static_cast<char>('0' + draw() % 10);
  }
  return true;
}

// Computed: 100 squads; at most 1.5 in a thousand clean times may be named, on a sheet with twice the usual scatter
// too.
TEST(UsualTimes, ACleanSheetIsHardlyEverAskedAbout) {
  for (const Scatter& scatter : {Scatter{}, rough}) {
    std::size_t times = 0;
    std::size_t alarms = 0;
    for (unsigned seed = 1; seed <= 100; ++seed) {
      const Sheet sheet(seed, scatter);
      for (const Row& row : sheet.rows) {
        times += static_cast<std::size_t>(
            std::count_if(row.times.begin(), row.times.end(), [](const std::string& t) { return !t.empty(); }));
      }
      alarms += named(sheet.text()).size();
    }
    std::printf("clean: %zu named of %zu times\n", alarms, times);
    EXPECT_GT(times, 10'000U);
    EXPECT_LT(static_cast<double>(alarms), 1.5e-3 * static_cast<double>(times));
  }
}

// Computed: one wrong figure a sheet, 200 sheets a kind. Limits: what was measured, less three SDs.
TEST(UsualTimes, WrongFiguresAreNamed) {
  for (const auto& [slip, name, least] :
       {std::tuple{Slip::units, "units", 0.80}, std::tuple{Slip::tenths, "tenths", 0.05},
        std::tuple{Slip::transposed, "transposed", 0.77}}) {
    std::size_t planted = 0;
    std::size_t found = 0;
    for (unsigned seed = 1001; seed <= 1200; ++seed) {
      Sheet sheet(seed);
      const std::size_t at = sheet.draw()() % sheet.rows.size();
      Row& row = sheet.rows[at];
      std::vector<std::string*> typed;
      for (std::string& time : row.times) {
        if (!time.empty()) {
          typed.push_back(&time);
        }
      }
      if (!spoil(*typed[sheet.draw()() % typed.size()], slip, sheet.draw())) {
        continue;
      }
      ++planted;
      found += named(sheet.text()).count(Sheet::line_of(at)) > 0 ? 1U : 0U;
    }
    std::printf("%s: %zu named of %zu\n", name, found, planted);
    EXPECT_GE(static_cast<double>(found), least * static_cast<double>(planted)) << name;
  }
}

}  // namespace
