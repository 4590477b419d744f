#include "bagsplit/record/detail/same_runs.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <fstream>
#include <functional>
#include <nlohmann/json.hpp>

#include "simulated_recorders.hpp"

namespace {

using namespace bagsplit;
using record::detail::BandTable;
using record::detail::EntryAt;
using record::detail::WatchEntry;

BandTable drawn_odds(std::uint64_t seed, std::size_t n, std::size_t m) {
  std::mt19937_64 draw(seed);
  BandTable out(n, m, std::max(n, m));
  for (std::size_t i = 0; i < n; ++i) {
    for (std::size_t j = 0; j < m; ++j) {
      out.cell(i, j) = test::normal(draw, 0.0, 3.0);
    }
  }
  return out;
}

// Every alignment by itself, as the states and their moves are described.
struct Enumerated {
  const BandTable& odds;
  record::detail::PairMoves moves;
  double total = 0.0;
  std::vector<double> sums = std::vector<double>(odds.rows() * odds.columns(), 0.0);
  std::vector<std::size_t> pairs = {};

  void walk(std::size_t i, std::size_t j, char state, double weight) {
    const std::size_t n = odds.rows();
    const std::size_t m = odds.columns();
    const double p = moves.miss;
    const double q = moves.again;
    const auto w = [&](std::size_t a, std::size_t b) { return std::exp(odds.get(a, b)); };
    if (i == n && j == m) {
      total += weight;
      for (const std::size_t pair : pairs) {
        sums[pair] += weight;
      }
    }
    if (i < n && j < m) {
      pairs.push_back(i * m + j);
      walk(i + 1, j + 1, 'M', weight * w(i, j) * (state == 'M' ? 1 - 2 * p - moves.swap : 1 - q - p * p));
      pairs.pop_back();
    }
    if (i + 1 < n && j + 1 < m) {
      pairs.push_back(i * m + j + 1);
      pairs.push_back((i + 1) * m + j);
      walk(i + 2, j + 2, 'M', weight * moves.swap * w(i, j + 1) * w(i + 1, j));
      pairs.resize(pairs.size() - 2);
    }
    if (i < n) {
      walk(i + 1, j, 'X', weight * (state == 'M' ? p : state == 'X' ? q : p * p));
    }
    if (j < m) {
      walk(i, j + 1, 'Y', weight * (state == 'M' ? p : state == 'X' ? p * p : q));
    }
  }
};

// Identity: the sum over all alignments, one after the other.
TEST(PairChances, AreTheSumOverAllAlignments) {
  for (const auto& [n, m] : {std::pair{1U, 1U}, {3U, 3U}, {4U, 3U}, {2U, 4U}, {4U, 4U}, {1U, 4U}}) {
    const BandTable odds = drawn_odds(5 + n * 10 + m, n, m);
    double log_total = 0.0;
    const BandTable got = record::detail::pair_chances(odds, {}, &log_total);
    Enumerated all{odds, {}};
    all.walk(0, 0, 'M', 1.0);
    EXPECT_NEAR(log_total, std::log(all.total), 1e-12);
    for (std::size_t i = 0; i < n; ++i) {
      double row = 0.0;
      for (std::size_t j = 0; j < m; ++j) {
        EXPECT_NEAR(got.get(i, j), all.sums[i * m + j] / all.total, 1e-13) << n << " " << m;
        row += got.get(i, j);
      }
      EXPECT_LE(row, 1.0 + 1e-12);
    }
  }
}

// Identity: far from the diagonal there is nothing to sum, so a band and the whole give the same.
TEST(PairChances, NeedOnlyABandOfTheTable) {
  BandTable whole(120, 120, 120);
  BandTable band(120, 120, 20);
  for (std::size_t i = 0; i < 120; ++i) {
    for (std::size_t j = 0; j < 120; ++j) {
      whole.cell(i, j) = i == j ? 4.0 : -4.0;
      if (band.has(i, j)) {
        band.cell(i, j) = whole.get(i, j);
      }
    }
  }
  const BandTable one = record::detail::pair_chances(whole, {});
  const BandTable other = record::detail::pair_chances(band, {});
  for (std::size_t i = 0; i < 120; ++i) {
    EXPECT_NEAR(one.get(i, i), other.get(i, i), 1e-12);
  }
}

std::vector<std::vector<WatchEntry>> logs_of(const nlohmann::json& file) {
  std::vector<std::vector<WatchEntry>> logs;
  for (const auto& log : file.at("logs")) {
    auto& out = logs.emplace_back();
    for (const auto& entry : log) {
      WatchEntry& one = out.emplace_back();
      one.bib = entry.at(0);
      one.times = {{1, entry.at(1)}};
      if (entry.size() > 2) {
        one.clock_s = entry.at(2);
      }
    }
  }
  return logs;
}

const char* word_of(record::detail::RunDoubt doubt) {
  const char* words[] = {"which-bib", "same-run", "out-of-order", "side-by-side", "one-run-more", "one-run-fewer"};
  return words[static_cast<std::size_t>(doubt)];
}

nlohmann::json places(std::span<const EntryAt> entries) {
  nlohmann::json out = nlohmann::json::array();
  for (const EntryAt at : entries) {
    out.push_back({at.recorder, at.entry});
  }
  return out;
}

// Computed: Python 3.11 with numpy 1.24, a program of its own that aligns invented evenings by forward-backward;
// entries, runs, questions, bias and SD of the watches in tests/record/reference/same_runs.json.
TEST(SameRuns, AreThoseOfAnotherProgram) {
  const char* named = std::getenv("BAGSPLIT_SAME_RUNS");  // more such files, made anew
  std::ifstream in(named != nullptr ? named : BAGSPLIT_TEST_DATA "/record/reference/same_runs.json");
  const auto files = nlohmann::json::parse(in).at("files");
  ASSERT_GE(files.size(), 3U);
  for (const auto& file : files) {
    SCOPED_TRACE(file.at("seed").dump());
    const auto logs = logs_of(file);
    const auto got = record::detail::same_runs(logs);
    nlohmann::json runs = nlohmann::json::array();
    for (const auto& run : got.runs) {
      runs.push_back(places(run));
    }
    EXPECT_EQ(runs, file.at("runs"));
    EXPECT_NEAR(got.watches_sd_s, file.at("sd_s"), 1e-9);
    for (std::size_t r = 0; r < logs.size(); ++r) {
      EXPECT_NEAR(got.bias_s[r], file.at("bias_s").at(r), 1e-9);
    }
    std::multiset<std::string> ours;
    std::multiset<std::string> theirs;
    for (const auto& question : got.questions) {
      auto entries = question.entries;
      std::sort(entries.begin(), entries.end(), [](EntryAt a, EntryAt b) {
        return a.recorder != b.recorder ? a.recorder < b.recorder : a.entry < b.entry;
      });
      ours.insert(word_of(question.doubt) + places(entries).dump());
    }
    for (const auto& question : file.at("questions")) {
      auto entries = question.at(1).get<std::vector<std::vector<int>>>();
      std::sort(entries.begin(), entries.end());
      theirs.insert(question.at(0).get<std::string>() + nlohmann::json(entries).dump());
    }
    EXPECT_EQ(ours, theirs);
    if (file.contains("chances")) {
      std::vector<double> best(logs[1 - file.at("rows_of").get<std::size_t>()].size(), 0.0);
      std::vector<double> sum(best.size(), 0.0);
      for (const auto& cell : file.at("chances")) {
        const auto j = cell.at(1).get<std::size_t>();
        best.at(j) = std::max(best.at(j), cell.at(2).get<double>());
        sum.at(j) += cell.at(2).get<double>();
      }
      const std::size_t first = file.at("rows_of") == 0 ? logs[0].size() : 0;
      for (std::size_t j = 0; j < best.size(); ++j) {
        const bool alone = best[j] < 0.05 && sum[j] < 0.2;
        EXPECT_NEAR(got.chance.at(first + j), alone ? 1.0 - sum[j] : best[j], 1e-6) << j;
      }
    }
  }
}

// Identity: what somebody has said is so holds against all times and bibs.
TEST(SameRuns, FollowWhatIsKnown) {
  std::vector<std::vector<WatchEntry>> logs(2);
  for (std::uint32_t k = 0; k < 12; ++k) {
    for (std::size_t r = 0; r < 2; ++r) {
      WatchEntry& one = logs[r].emplace_back();
      one.bib = 1 + k / 2;
      one.times = {{1, 4.0 + 0.1 * k + 0.02 * static_cast<double>(r * (k % 3))}};
    }
  }
  logs[1].erase(logs[1].begin() + 4);
  logs[1][4].ties = {9};  // the second run of 3, says who saw it: the first
  logs[0][4].ties = {9};
  const auto got = record::detail::same_runs(logs);
  const auto with = [&](EntryAt at) {
    for (const auto& run : got.runs) {
      if (std::find(run.begin(), run.end(), at) != run.end()) {
        return run.size();
      }
    }
    return std::size_t{0};
  };
  EXPECT_EQ(with({0, 4}), 2U);
  EXPECT_EQ(with({0, 5}), 1U);
  logs[1][4].ties.clear();
  logs[1][4].alone = true;
  EXPECT_EQ(record::detail::same_runs(logs).runs.size(), 13U);
}

// Identity: one log, an empty log and none at all are taken as they are.
TEST(SameRuns, TakeWhatThereIs) {
  WatchEntry one;
  one.bib = 1;
  std::vector<std::vector<WatchEntry>> logs{{one, one}};
  EXPECT_EQ(record::detail::same_runs(logs).runs.size(), 2U);
  logs.push_back({});
  EXPECT_EQ(record::detail::same_runs(logs).runs.size(), 2U);
  EXPECT_TRUE(record::detail::same_runs(std::vector<std::vector<WatchEntry>>(2)).runs.empty());
}

}  // namespace
