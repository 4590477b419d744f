#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <fstream>
#include <functional>
#include <nlohmann/json.hpp>

#include "bagsplit/gates/detail/gate_chains.hpp"
#include "bagsplit/gates/detail/line_chances.hpp"
#include "record/simulated_recorders.hpp"

namespace {

using namespace bagsplit;
using namespace bagsplit::gates::detail;

std::vector<double> common_times() {
  const test::SprintingChild common{6.0, 1.0, 0.0, 1.0};
  const auto t = [&](double metres) { return test::sprint_s(common, metres + 0.5); };
  return {t(9.144) - t(0.0), t(18.288) - t(9.144)};
}

// Children of the list as the other program had them: rounds, pairs, or one line each.
void set_children(const nlohmann::json& file, ListProblem& problem) {
  const auto& lines = file.at("lines");
  const auto line_of = [&](std::size_t k) {
    return ListLine{lines[k].size() > 1 ? std::optional(lines[k][1].get<double>()) : std::nullopt};
  };
  const std::size_t n = file.at("arguments").at("n");
  const bool twice = lines.size() > n;
  const bool pairs = file.at("arguments").value("shape", "rounds") == "pairs";
  problem.order = twice && !pairs ? ListOrder::rounds : ListOrder::single;
  for (std::size_t i = 0; i < n; ++i) {
    ListChild& child = problem.children.emplace_back();
    child.first = line_of(pairs ? 2 * i : i);
    if (twice) {
      child.second = line_of(pairs ? 2 * i + 1 : n + i);
    }
  }
}

// Computed: Python 3.11 with numpy 1.24, a program of its own; breaks, runs and P in
// tests/gates/reference/gate_chances.json.
TEST(GateChances, AreThoseOfAnotherProgram) {
  const char* named = std::getenv("BAGSPLIT_GATE_CHANCES");  // more such files, made anew
  std::ifstream in(named != nullptr ? named : BAGSPLIT_TEST_DATA "/gates/reference/gate_chances.json");
  const auto files = nlohmann::json::parse(in).at("files");
  ASSERT_GE(files.size(), 5U);
  for (const auto& file : files) {
    SCOPED_TRACE(file.at("seed").dump());
    std::vector<Break> breaks;
    for (const auto& one : file.at("breaks")) {
      breaks.push_back({{one[0].get<std::size_t>()}, one[1], one[2]});
    }
    const Chains got = chains_of(breaks, common_times(), file.at("lines").size());
    ASSERT_EQ(got.runs.size(), file.at("runs").size());
    ListProblem problem;
    for (std::size_t k = 0; k < got.runs.size(); ++k) {
      const Chain& run = got.runs[k];
      const auto& theirs = file.at("runs")[k];
      nlohmann::json steps = nlohmann::json::array();
      for (const Chain::Step& step : run.steps) {
        steps.push_back({step.place, step.at});
      }
      EXPECT_EQ(steps, theirs.at("steps")) << k;
      EXPECT_NEAR(run.exists, theirs.at("exists"), 1e-6) << k;
      for (const auto& mark : theirs.at("chance")) {
        EXPECT_NEAR(run.chance.at(mark[0]), mark[1], 1e-6) << k;
      }
      problem.slots.push_back({run.level, run.level_variance, run.exists, run.start_s, run.clock});
    }
    problem.hints = got.hints;
    problem.span_s = file.at("span_s");
    problem.everybody_ran = file.at("arguments").at("everybody_ran");
    set_children(file, problem);
    const LineChances chances = line_chances(problem);
    std::vector<double> theirs(chances.chance.size(), 0.0);
    for (const auto& cell : file.at("chances")) {
      theirs.at(cell[0].get<std::size_t>() * chances.children + cell[1].get<std::size_t>()) = cell[2];
    }
    for (std::size_t k = 0; k < theirs.size(); ++k) {
      EXPECT_NEAR(chances.chance[k], theirs[k], 1e-6) << k / chances.children << " " << k % chances.children;
    }
  }
}

Slot slot(double level, double start_s) {
  return {level, 0.022 * 0.022, 0.999, start_s, 0};
}

// Every way the list may fit, one after the other: children in order, each with its line's run or none, runs of nobody,
// neighbours exchanged.
struct Ways {
  const ListProblem& problem;
  const ListRules rules = {};
  double squad_sd = 0.08;  // the least there is
  double total = 0.0;
  std::vector<double> sums = std::vector<double>(problem.slots.size() * problem.children.size(), 0.0);
  std::vector<std::size_t> cells = {};

  // Slots have levels of median 0; a child of whom nothing is known has level 0 and the spread of the squad.
  void walk(std::size_t i, std::size_t j, double weight) {
    const std::size_t n = problem.children.size();
    const std::size_t m = problem.slots.size();
    if (i == n && j == m) {
      total += weight;
      for (const std::size_t cell : cells) {
        sums[cell] += weight;
      }
    }
    if (j < m) {
      walk(i, j + 1, weight * (rules.extra + 1.0 - problem.slots[j].exists));
    }
    go_on(i, j, weight);
  }

  void go_on(std::size_t i, std::size_t j, double weight) {
    const std::size_t n = problem.children.size();
    const std::size_t m = problem.slots.size();
    if (i < n) {
      walk(i + 1, j, weight * rules.no_show);
    }
    if (i < n && j < m) {
      cells.push_back(j * n + i);
      walk(i + 1, j + 1, weight * (1.0 - rules.no_show - rules.swap) * one(i, j));
      cells.pop_back();
    }
    if (i + 1 < n && j + 1 < m) {
      cells.push_back((j + 1) * n + i);
      cells.push_back(j * n + i + 1);
      walk(i + 2, j + 2, weight * rules.swap * one(i, j + 1) * one(i + 1, j));
      cells.resize(cells.size() - 2);
    }
  }

  double one(std::size_t i, std::size_t j) const {
    const auto density = [](double d, double variance) {
      return std::exp(-0.5 * d * d / variance) / std::sqrt(2.0 * 3.14159265358979323846 * variance);
    };
    const Slot& run = problem.slots[j];
    const ListChild& child = problem.children[i];
    const double own = child.level_sd.value_or(squad_sd);
    return ((1.0 - 1e-4) * density(run.level - child.level, own * own + run.variance) + 1e-4) /
           (density(run.level, squad_sd * squad_sd + run.variance) + 1e-12);
  }
};

// Identity: the sum over all ways, one after the other.
TEST(LineChances, AreTheSumOverAllWays) {
  for (const auto& [n, m] : {std::pair{1U, 1U}, {3U, 3U}, {4U, 3U}, {3U, 4U}, {4U, 2U}}) {
    ListProblem problem;
    problem.children.resize(n);
    for (ListChild& child : problem.children) {
      child.first = ListLine{};
    }
    for (std::size_t j = 0; j < m; ++j) {
      problem.slots.push_back(slot(0.0, 20.0 * static_cast<double>(j)));
    }
    const LineChances got = line_chances(problem);
    Ways all{problem};
    all.walk(0, 0, 1.0);
    for (std::size_t k = 0; k < got.chance.size(); ++k) {
      EXPECT_NEAR(got.chance[k], all.sums[k] / all.total, 1e-12) << n << " " << m;
    }
  }
}

// Identity: an answer holds, and the rows sum to one at most.
TEST(LineChances, FollowAnAnswer) {
  ListProblem problem;
  problem.children.resize(6);
  for (ListChild& child : problem.children) {
    child.first = ListLine{};
    child.second = ListLine{};
  }
  problem.order = ListOrder::rounds;
  for (std::size_t j = 0; j < 10; ++j) {  // one child away from both rounds
    problem.slots.push_back(slot(0.01 * static_cast<double>((7 * j) % 5), 20.0 * static_cast<double>(j)));
  }
  const LineChances open = line_chances(problem);
  EXPECT_LT(open.at(3, 4), 0.9);
  problem.answers = {{3, 4}};
  const LineChances told = line_chances(problem);
  EXPECT_NEAR(told.at(3, 4), 1.0, 1e-6);
  EXPECT_NEAR(told.at(4, 5), 1.0, 0.02);
  for (std::size_t j = 0; j < 10; ++j) {
    double sum = 0.0;
    for (std::size_t i = 0; i < 6; ++i) {
      sum += told.at(j, i);
    }
    EXPECT_LE(sum, 1.0 + 1e-9);
  }
}

// Identity: the same with what is known of some children beforehand. Three lines, two runs, one 10 % faster and one 10
// % slower than the middle; the spread of levels is 1.4826 x 0.1, their median distance from the middle.
TEST(LineChances, TakeWhatIsKnownOfTheChildren) {
  ListProblem problem;
  problem.children.resize(3);
  const double levels[] = {-0.1, 0.0, 0.1};
  for (std::size_t i = 0; i < 3; ++i) {
    problem.children[i].first = ListLine{};
  }
  problem.slots = {slot(-0.1, 0.0), slot(0.1, 20.0)};
  const LineChances nothing = line_chances(problem);
  EXPECT_LT(nothing.at(0, 0), 0.8);  // who of the three is away is open
  for (std::size_t i = 0; i < 3; ++i) {
    problem.children[i].level = levels[i];
    problem.children[i].level_sd = 0.04;
  }
  const LineChances got = line_chances(problem);
  Ways all{problem};
  all.squad_sd = 0.14826;
  all.walk(0, 0, 1.0);
  for (std::size_t k = 0; k < got.chance.size(); ++k) {
    EXPECT_NEAR(got.chance[k], all.sums[k] / all.total, 1e-12) << k;
  }
  EXPECT_GT(got.at(0, 0), 0.9);  // the middle one is away
  EXPECT_GT(got.at(1, 2), 0.9);
}

// Identity: children whose times go with the list speak for it, and those of the list backwards against it.
TEST(LineChances, DoubtAListOfOthers) {
  ListProblem problem;
  problem.children.resize(8);
  for (std::size_t i = 0; i < 8; ++i) {
    problem.children[i].first = ListLine{};
    problem.children[i].level = 0.06 * (static_cast<double>(i) - 3.5);
    problem.children[i].level_sd = 0.04;
    problem.slots.push_back(slot(problem.children[i].level, 20.0 * static_cast<double>(i)));
  }
  EXPECT_GT(line_chances(problem).mean_log_odds, 0.3);
  std::reverse(problem.slots.begin(), problem.slots.end());
  for (std::size_t j = 0; j < 8; ++j) {
    problem.slots[j].start_s = 20.0 * static_cast<double>(j);
  }
  EXPECT_LT(line_chances(problem).mean_log_odds, -0.3);
}

}  // namespace
