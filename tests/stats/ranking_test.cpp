#include "bagsplit/stats/ranking.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <limits>
#include <stdexcept>
#include <vector>

#include "bagsplit/stats/distributions.hpp"
#include "bagsplit/stats/random.hpp"

namespace {

using namespace bagsplit::stats;

// P(rank <= cut) of candidate i among independent normals by integration: over the candidate's own value, the number of
// others below it is a sum of independent yes and no, whose distribution is built up one by one.
double p_in_cut_by_integration(const std::vector<Candidate>& all, std::size_t i, std::size_t cut) {
  double sum = 0.0;
  const double step = 0.01;
  for (double z = -8.0; z <= 8.0; z += step) {
    const double x = all[i].mean + all[i].sd * z;
    std::vector<double> count(all.size(), 0.0);
    count[0] = 1.0;
    for (std::size_t j = 0; j < all.size(); ++j) {
      if (j == i) {
        continue;
      }
      const double p = normal_cdf((x - all[j].mean) / all[j].sd);
      for (std::size_t m = all.size() - 1; m > 0; --m) {
        count[m] = count[m] * (1.0 - p) + count[m - 1] * p;
      }
      count[0] *= 1.0 - p;
    }
    double inside = 0.0;
    for (std::size_t m = 0; m < cut; ++m) {
      inside += count[m];
    }
    sum += step * std::exp(-0.5 * z * z) / std::sqrt(2.0 * 3.14159265358979323846) * inside;
  }
  return sum;
}

TEST(Ranking, AgreesWithNumericalIntegration) {
  const std::vector<Candidate> all = {{4.00, 0.10, 0.1}, {4.05, 0.05, 0.1}, {4.10, 0.20, 0.1},
                                      {4.20, 0.10, 0.1}, {4.25, 0.15, 0.1}, {4.60, 0.05, 0.1}};
  constexpr std::size_t draws = 40000;
  std::vector<double> values(all.size() * draws);
  for (std::size_t i = 0; i < all.size(); ++i) {
    RandomStream random(7, i);
    for (std::size_t d = 0; d < draws; ++d) {
      values[i * draws + d] = all[i].mean + all[i].sd * random.normal();
    }
  }
  const Ranking ranking = rank_draws(values, all.size(), 3, Best::lowest, 0.95);
  for (std::size_t i = 0; i < all.size(); ++i) {
    // Identity: the integral in closed form over the candidate's own value; 5 standard errors of the draws.
    EXPECT_NEAR(ranking.p_in_cut[i], p_in_cut_by_integration(all, i, 3), 5.0 * 0.5 / std::sqrt(1.0 * draws));
    // Identity: the expected rank is 1 plus the sum of the probabilities of being beaten.
    double rank = 1.0;
    for (std::size_t j = 0; j < all.size(); ++j) {
      rank += j == i ? 0.0 : normal_cdf((all[i].mean - all[j].mean) / std::hypot(all[i].sd, all[j].sd));
    }
    EXPECT_NEAR(ranking.expected_rank[i], rank, 0.05);
  }
}

TEST(Ranking, ASharedBiasAloneLeavesTheOrderCertain) {
  std::vector<double> values;
  for (const double own : {1.00, 1.01, 1.02}) {
    RandomStream random(3);
    for (int d = 0; d < 500; ++d) {
      values.push_back(own + 0.3 * random.normal());
    }
  }
  // Identity: what is added to all alike moves nobody past anybody.
  const Ranking low = rank_draws(values, 3, 1, Best::lowest, 0.95);
  EXPECT_EQ(low.p_in_cut, (std::vector<double>{1.0, 0.0, 0.0}));
  EXPECT_EQ(low.tier, (std::vector<std::size_t>{1, 2, 3}));
  EXPECT_EQ(low.rank_lo, (std::vector<double>{1.0, 2.0, 3.0}));
  EXPECT_EQ(low.rank_hi, low.rank_lo);
  const Ranking high = rank_draws(values, 3, 1, Best::highest, 0.95);
  EXPECT_EQ(high.expected_rank, (std::vector<double>{3.0, 2.0, 1.0}));
}

TEST(Ranking, TiesShareThePlacesAndTheSeatsLeft) {
  const std::vector<double> values = {1.0, 2.0, 2.0, 3.0};
  const Ranking ranking = rank_draws(values, 4, 2, Best::lowest, 0.95);
  // Identity: two share places 2 and 3, and one seat.
  EXPECT_EQ(ranking.expected_rank, (std::vector<double>{1.0, 2.5, 2.5, 4.0}));
  EXPECT_EQ(ranking.p_in_cut, (std::vector<double>{1.0, 0.5, 0.5, 0.0}));
  EXPECT_THROW(rank_draws(values, 3, 2, Best::lowest, 0.95), std::invalid_argument);
}

TEST(Ranking, IntervalsOfRanksHoldTheirShareOfTheDraws) {
  // Two that change places in a tenth of the draws, and one far behind.
  std::vector<double> values;
  for (int d = 0; d < 100; ++d) {
    values.push_back(d < 10 ? 2.0 : 1.0);
  }
  values.insert(values.end(), 100, 1.5);
  values.insert(values.end(), 100, 9.0);
  // Identity: ranks 1 in 90 draws and 2 in 10; 5 % are cut off on either side at 0.9, none of the 10 at 0.7.
  const Ranking wide = rank_draws(values, 3, 1, Best::lowest, 0.95, 0.9);
  EXPECT_EQ(wide.rank_lo, (std::vector<double>{1.0, 1.0, 3.0}));
  EXPECT_EQ(wide.rank_hi, (std::vector<double>{2.0, 2.0, 3.0}));
  EXPECT_EQ(rank_draws(values, 3, 1, Best::lowest, 0.95, 0.7).rank_hi[0], 1.0);
}

TEST(Allocation, WhatNoRunTellsIsAFloor) {
  const std::vector<Candidate> open = {{0.05, 0.1, 0.1}, {0.3, 0.1, 0.1}};
  std::vector<Candidate> closed = open;
  closed[0].floor_sd = closed[0].sd;
  const std::vector<std::size_t> four = {4, 0};
  // Identity: where the floor is all, runs change nothing, and none are given there.
  EXPECT_NEAR(expected_wrong_cuts(closed, 0.0, four), expected_wrong_cuts(closed, 0.0, {}), 1e-12);
  EXPECT_LT(expected_wrong_cuts(open, 0.0, four), 0.9 * expected_wrong_cuts(open, 0.0, {}));
  EXPECT_EQ(allocate_runs(closed, 0.0, 4)[0], 0U);
  // Identity: a run without error leaves the floor alone: the mean of Phi(-|M| / floor) over M ~ N(mean, sd^2 -
  // floor^2).
  const Candidate half{0.05, 0.1, 1e-9, 0.06};
  double sum = 0.0;
  double total = 0.0;
  for (double z = -8.0; z <= 8.0; z += 0.001) {
    const double weight = std::exp(-0.5 * z * z);
    sum += weight * normal_cdf(-std::abs(0.05 + 0.08 * z) / 0.06);
    total += weight;
  }
  EXPECT_NEAR(expected_wrong_cuts(std::vector{half}, 0.0, std::vector<std::size_t>{1}), sum / total, 1e-6);
  EXPECT_THROW(expected_wrong_cuts(std::vector<Candidate>{{0.0, 0.1, 0.1, 0.2}}, 0.0, {}), std::domain_error);
  EXPECT_EQ(allocate_runs(open, 0.0, 10, 3), (std::vector<std::size_t>{3, 3}));
}

TEST(Allocation, TendsToThePublishedRatioLaw) {
  const double unknown = std::numeric_limits<double>::infinity();
  const std::vector<Candidate> all = {
      {1.0, unknown, 1.0}, {2.0, unknown, 2.0}, {3.5, unknown, 1.0}, {5.0, unknown, 3.0}};
  const double line = cut_line(all, 2, Best::lowest);
  const std::vector<double> law = ratio_law(all, line);
  // Source: Chen, He, Fu & Lee (2008), INFORMS J Comput 20:579-595: N_i / N_j = (s_i / d_i)^2 / (s_j / d_j)^2.
  EXPECT_NEAR(law[0] / law[1], (1.0 / 1.75) * (1.0 / 1.75) / ((2.0 / 0.75) * (2.0 / 0.75)), 1e-12);
  double before = 1.0;
  for (const std::size_t budget : {100U, 1000U, 8000U}) {
    const std::vector<std::size_t> more = allocate_runs(all, line, budget);
    double worst = 0.0;
    for (std::size_t i = 0; i < all.size(); ++i) {
      worst = std::max(worst, std::abs(static_cast<double>(more[i]) / static_cast<double>(budget) / law[i] - 1.0));
    }
    EXPECT_LT(worst, before);
    before = worst;
  }
  EXPECT_LT(before, 0.05);
}

// 60 players, cut at 15, one run each to start. Abilities as the demo season was made (data/demo/README.md): V 5.2-7.2
// m/s, tau 0.8-1.3 s, reaction 0.25-0.45 s, evenly; the quantity is the time over 60 ft, 18.288 m, from the call, here
// V (t - tau) = d past the acceleration. One run: effort 1.8%, reaction 0.045 s, start press 0.055 s, mark press 0.05
// s: SD 0.115 s. The true mean and SD of the squad are the prior, as the squad's model would have learnt them.
struct Season {
  std::vector<double> ability;
  double mean = 0.0, sd = 0.0;
};
constexpr std::size_t players = 60, cut = 15;
constexpr double run_sd = 0.115;

Season draw_season(RandomStream& random) {
  Season out;
  for (std::size_t i = 0; i < players; ++i) {
    const double v = 5.2 + 2.0 * random.uniform();
    const double tau = 0.8 + 0.5 * random.uniform();
    out.ability.push_back(18.288 / v + tau + 0.25 + 0.2 * random.uniform());
    out.mean += out.ability.back() / players;
  }
  for (const double a : out.ability) {
    out.sd += (a - out.mean) * (a - out.mean) / (players - 1.0);
  }
  out.sd = std::sqrt(out.sd);
  return out;
}

// Wrong cuts after `total` runs, one each to start, then `step` at a time: by allocation, or evenly in turn.
std::size_t wrong_cuts(const Season& season, std::size_t total, bool allocated, RandomStream& random) {
  std::vector<double> sum(players, 0.0);
  std::vector<std::size_t> count(players, 0);
  const auto one_run = [&](std::size_t i) {
    sum[i] += season.ability[i] + run_sd * random.normal();
    ++count[i];
  };
  const auto believed = [&] {
    std::vector<Candidate> out;
    for (std::size_t i = 0; i < players; ++i) {
      const double precision = 1.0 / (season.sd * season.sd) + static_cast<double>(count[i]) / (run_sd * run_sd);
      out.push_back({(season.mean / (season.sd * season.sd) + sum[i] / (run_sd * run_sd)) / precision,
                     1.0 / std::sqrt(precision), run_sd});
    }
    return out;
  };
  for (std::size_t i = 0; i < players; ++i) {
    one_run(i);
  }
  for (std::size_t done = players; done < total;) {
    const std::size_t step = std::min<std::size_t>(10, total - done);
    if (allocated) {
      const auto now = believed();
      const auto more = allocate_runs(now, cut_line(now, cut, Best::lowest), step);
      for (std::size_t i = 0; i < players; ++i) {
        for (std::size_t r = 0; r < more[i]; ++r) {
          one_run(i);
        }
      }
    } else {
      for (std::size_t r = 0; r < step; ++r) {
        one_run((done + r) % players);
      }
    }
    done += step;
  }
  const auto now = believed();
  const double line = cut_line(now, cut, Best::lowest);
  std::vector<double> truth = season.ability;
  std::nth_element(truth.begin(), truth.begin() + (cut - 1), truth.end());
  std::size_t out = 0;
  for (std::size_t i = 0; i < players; ++i) {
    out += (now[i].mean < line) != (season.ability[i] <= truth[cut - 1]) ? 1U : 0U;
  }
  return out;
}

TEST(Allocation, NeedsAtLeast30PercentFewerRunsThanEqualShares) {
  constexpr std::size_t equal_runs = 240, allocated_runs = 168, seasons = 300;
  double equal = 0.0;
  double allocated = 0.0;
  for (std::size_t s = 0; s < seasons; ++s) {
    RandomStream random(11, s);
    const Season season = draw_season(random);
    equal += static_cast<double>(wrong_cuts(season, equal_runs, false, random)) / seasons;
    allocated += static_cast<double>(wrong_cuts(season, allocated_runs, true, random)) / seasons;
  }
  std::printf(
      "60 players, cut at 15, one run each to start, then 10 at a time; SD of a run %.3f s; %zu seasons, seed 11\n"
      "equal shares, %zu runs: %.3f wrong cuts; allocated, %zu runs (30%% fewer): %.3f\n",
      run_sd, seasons, equal_runs, equal, allocated_runs, allocated);
  // Common practice, no source: the aim set for this product, 30% fewer runs for the same rate of wrong cuts.
  EXPECT_LE(allocated, equal);
}

}  // namespace
