#include "bagsplit/jobs/profile/sheet_doubts.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <string>
#include <vector>

#include "bagsplit/runs/log/run_log.hpp"
#include "bagsplit/runs/roster/roster.hpp"
#include "support/invented_sheet.hpp"

// Computed: sheets invented by a seeded script (support/invented_sheet.hpp), the truth drawn from the model's own
// priors. The bars are those of a reference written apart from this program; more squads: SHEET_DOUBTS_SQUADS=60.

namespace {

using namespace bagsplit;
using test::InventedRow;
using test::InventedSheet;

unsigned squads() {
  const char* const asked = std::getenv("SHEET_DOUBTS_SQUADS");
  return asked != nullptr ? static_cast<unsigned>(std::atoi(asked)) : 2U;
}

jobs::SheetDoubts doubts_of(const InventedSheet& sheet) {
  runs::RosterResult roster = runs::read_roster(sheet.roster(), "roster.csv", {});
  const runs::RunLogResult read = runs::read_run_log(sheet.text(), "night.csv");
  EXPECT_FALSE(text::has_errors(read.problems));
  return jobs::doubt_sheet(read.log, roster.roster, timing::DeviceBook(), {.model = {}, .threads = 0});
}

std::size_t count(const jobs::SheetDoubts& doubts, const std::string& kind) {
  return static_cast<std::size_t>(
      std::count_if(doubts.surely.begin(), doubts.surely.end(), [&](const auto& r) { return r.kind == kind; }));
}

TEST(SheetDoubts, NothingIsSaidOfACleanSheet) {
  std::size_t rows = 0;
  std::size_t swaps = 0;
  std::size_t bibs = 0;
  std::size_t postures = 0;
  std::size_t cells = 0;
  std::size_t notes = 0;
  for (unsigned seed = 1; seed <= squads(); ++seed) {
    const InventedSheet sheet(seed, {}, seed % 2 == 0);
    const jobs::SheetDoubts doubts = doubts_of(sheet);
    rows += sheet.rows.size();
    swaps += count(doubts, "swap");
    bibs += count(doubts, "bib");
    postures += count(doubts, "posture");
    cells += doubts.surely.size() - count(doubts, "swap") - count(doubts, "bib") - count(doubts, "posture");
    notes += doubts.notes.size();
  }
  std::printf("clean: of %zu rows %zu swapped, %zu bibs, %zu postures, %zu cells; %zu notes\n", rows, swaps, bibs,
              postures, cells, notes);
  EXPECT_LE(swaps, 2U * (rows / 1000U));
  EXPECT_LE(bibs, rows / 1000U);
  EXPECT_LE(postures, 3U * (rows / 1000U + 1U));
  EXPECT_LE(notes, squads() / 20U);
}

// A drill run from lying down and written as standing: one entry for all of it, and nothing else surely.
TEST(SheetDoubts, ADrillWithTheWrongPostureIsNamed) {
  for (const bool prone : {true, false}) {
    std::size_t found = 0;
    std::size_t others = 0;
    for (unsigned seed = 101; seed < 101 + squads(); ++seed) {
      InventedSheet sheet(seed, {}, prone);
      sheet.logged_prone = !prone;
      const jobs::SheetDoubts doubts = doubts_of(sheet);
      const auto is_drill = [](const jobs::SuspectedReading& r) { return r.kind == "posture" && r.drill > 0; };
      found += std::any_of(doubts.surely.begin(), doubts.surely.end(), is_drill) ? 1U : 0U;
      others += doubts.surely.size() -
                static_cast<std::size_t>(std::count_if(doubts.surely.begin(), doubts.surely.end(), is_drill));
    }
    std::printf("%s: %zu of %u drills named, %zu other rows\n", prone ? "prone as standing" : "standing as prone",
                found, squads(), others);
    EXPECT_GE(found, prone ? squads() - squads() / 20U : squads() - squads() / 8U);
  }
}

// One row of the straights with the other posture than it was run from.
TEST(SheetDoubts, OneRowWithTheWrongPostureIsNamed) {
  for (const bool prone : {true, false}) {
    std::size_t named = 0;
    std::size_t others = 0;
    const unsigned sheets = 4 * squads();
    for (unsigned seed = 6001; seed < 6001 + sheets; ++seed) {
      InventedSheet sheet(seed, {}, prone);
      std::vector<std::size_t> straights;
      for (std::size_t k = 0; k < sheet.rows.size(); ++k) {
        if (sheet.rows[k].is_straight()) {
          straights.push_back(k);
        }
      }
      const std::size_t at = straights[sheet.draw()() % straights.size()];
      sheet.rows[at].posture = prone ? "standing" : "prone";
      for (const jobs::SuspectedReading& reading : doubts_of(sheet).surely) {
        if (reading.kind == "posture") {
          (reading.line == InventedSheet::line_of(at) ? named : others) += 1;
        }
      }
    }
    std::printf("one row %s: %zu of %u named, %zu others\n", prone ? "prone as standing" : "standing as prone", named,
                sheets, others);
    EXPECT_GE(named, sheets / 2U);
    EXPECT_LE(others, 1U + sheets / 6U);
  }
}

double most_apart_s(const InventedRow& a, const InventedRow& b) {
  double most = 0.0;
  for (std::size_t k = 0; k < a.times.size(); ++k) {
    most = std::max(most, a.times[k].empty() ? 0.0 : std::fabs(std::stod(a.times[k]) - std::stod(b.times[k])));
  }
  return most;
}

// Two children's runs of one round swapped: both rows named, each with the other.
TEST(SheetDoubts, SwappedRunsAreNamed) {
  std::size_t planted = 0;
  std::size_t found = 0;
  std::size_t false_pairs = 0;
  for (unsigned seed = 201; seed < 201 + 4 * squads(); ++seed) {
    InventedSheet sheet(seed);
    const std::string round = std::to_string(1 + sheet.draw()() % 3);
    std::vector<std::size_t> alike;
    for (std::size_t k = 0; k < sheet.rows.size(); ++k) {
      if (sheet.rows[k].trial == round) {
        alike.push_back(k);
      }
    }
    const std::size_t a = alike[sheet.draw()() % alike.size()];
    const std::size_t b = alike[sheet.draw()() % alike.size()];
    InventedRow& one = sheet.rows[a];
    InventedRow& other = sheet.rows[b];
    if (a == b || most_apart_s(one, other) < 0.8) {
      continue;
    }
    ++planted;
    std::swap(one.times, other.times);
    const jobs::SheetDoubts doubts = doubts_of(sheet);
    bool named = false;
    for (const jobs::SuspectedReading& reading : doubts.surely) {
      const bool right =
          (reading.line == InventedSheet::line_of(a) && reading.other_line == InventedSheet::line_of(b)) ||
          (reading.line == InventedSheet::line_of(b) && reading.other_line == InventedSheet::line_of(a));
      named = named || (reading.kind == "swap" && right);
      false_pairs += reading.kind == "swap" && !right ? 1U : 0U;
    }
    found += named ? 1U : 0U;
  }
  std::printf("swapped by 0.8 s or more: %zu of %zu named, %zu rows of wrong pairs\n", found, planted, false_pairs);
  // Computed: 27 of 39 of 120 squads; with the reference's scatter (presses 0.057 s, efforts 2 %, bags alike) 30 of 38,
  // where it names three in four. No wrong pair in either.
  EXPECT_GE(static_cast<double>(found), 0.25 * static_cast<double>(planted));
  EXPECT_EQ(false_pairs, 0U);
}

// Two children who were swapped in one round look swapped in their next lap as well: one pair is told, the right one,
// and no time of theirs that only misfits because of it.
TEST(SheetDoubts, TheOtherRoundsOfSwappedChildrenAreNotNamed) {
  InventedSheet sheet(1244);
  const std::size_t a = 12 - InventedSheet::line_of(0);
  const std::size_t b = 14 - InventedSheet::line_of(0);
  ASSERT_EQ(sheet.rows[a].course, "circuit");
  ASSERT_EQ(sheet.rows[b].course, "circuit");
  std::swap(sheet.rows[a].times, sheet.rows[b].times);
  const jobs::SheetDoubts doubts = doubts_of(sheet);
  ASSERT_EQ(doubts.surely.size(), 2U);
  for (const jobs::SuspectedReading& reading : doubts.surely) {
    EXPECT_EQ(reading.kind, "swap");
    EXPECT_EQ(reading.line + reading.other_line, 12U + 14U);
  }
}

// A child's only run to first typed under another's bib, who then has one too many: named with whose it is, or not
// surely at all.
TEST(SheetDoubts, ARunUnderAWrongBibIsNamed) {
  std::size_t planted = 0;
  std::size_t right = 0;
  std::size_t wrong = 0;
  for (unsigned seed = 301; seed < 301 + 2 * squads(); ++seed) {
    InventedSheet sheet(seed);
    const std::size_t at = sheet.draw()() % sheet.rows.size();
    InventedRow& row = sheet.rows[at];
    if (row.course != "circuit") {
      continue;
    }
    const std::string whose = row.player;
    row.player = whose == "3" ? "5" : "3";
    row.trial = "9";
    ++planted;
    for (const jobs::SuspectedReading& reading : doubts_of(sheet).surely) {
      if (reading.kind == "bib" && reading.line == InventedSheet::line_of(at)) {
        (reading.other_player == whose ? right : wrong) += 1;
      }
    }
  }
  std::printf("wrong bib: %zu of %zu named rightly, %zu wrongly\n", right, planted, wrong);
  EXPECT_LE(wrong, 1U + right / 4U);
}

}  // namespace
