#include <Eigen/Cholesky>
#include <algorithm>
#include <cmath>
#include <numeric>

#include "bagsplit/jobs/draw_heats.hpp"
#include "bagsplit/jobs/standings/detail/standings_heats.hpp"
#include "bagsplit/stats/finish_order.hpp"
#include "bagsplit/stats/random.hpp"

namespace bagsplit::jobs::detail {

namespace {

using Eigen::Index;
using Eigen::MatrixXd;
using Eigen::VectorXd;

constexpr double nearly_sure = 0.001;     // whose probability is nearer to 0 or 1 is not asked to run again
constexpr std::size_t most_in_heat = 6;   // that one pair of eyes can place. Common practice, no source
constexpr std::size_t most_worlds = 200;  // evenings simulated; fewer of many children
constexpr std::size_t least_worlds = 40;
constexpr std::size_t draws_each = 400;
constexpr double least_weight = 0.01;  // parts of a mixture below are left aside in what more heats are worth

// One group of the order, with its line.
struct Line {
  std::vector<std::size_t> members;  // into HeatBeliefs' players
  std::size_t cut = 0;
};

struct NextRound {
  const HeatBeliefs& told;
  std::vector<Line> lines;
  std::vector<std::vector<std::size_t>> heats;  // into HeatBeliefs' players
};

MatrixXd root_of(MatrixXd covariance) {
  covariance.diagonal().array() += 1e-12;
  return covariance.llt().matrixL();
}

// Children on the wrong side of their lines to expect, when as many as fit are taken by their chance.
double wrong_cuts(const NextRound& next, const stats::NormalMixture& times, stats::RandomStream& random) {
  const auto n = static_cast<Index>(next.told.values.size());
  std::vector<double> in(static_cast<std::size_t>(n), 0.0);
  double all = 0.0;
  for (std::size_t p = 0; p < times.parts.size(); ++p) {
    const MatrixXd root = root_of(times.parts[p].covariance.topLeftCorner(n, n));
    const auto count = static_cast<std::size_t>(std::lround(times.weights[p] * static_cast<double>(draws_each)));
    for (std::size_t d = 0; d < count; ++d) {
      VectorXd z(n);
      for (Index i = 0; i < n; ++i) {
        z(i) = random.normal();
      }
      const VectorXd time = times.parts[p].mean.head(n) + root * z;
      all += 1.0;
      for (const Line& line : next.lines) {
        std::vector<std::size_t> order = line.members;
        std::nth_element(
            order.begin(), order.begin() + static_cast<std::ptrdiff_t>(line.cut), order.end(),
            [&](std::size_t a, std::size_t b) { return time(static_cast<Index>(a)) < time(static_cast<Index>(b)); });
        for (std::size_t k = 0; k < line.cut; ++k) {
          in[order[k]] += 1.0;
        }
      }
    }
  }
  double wrong = 0.0;
  for (const Line& line : next.lines) {
    std::vector<double> chance;
    for (const std::size_t i : line.members) {
      chance.push_back(in[i] / std::max(all, 1.0));
    }
    std::sort(chance.rbegin(), chance.rend());
    for (std::size_t k = 0; k < chance.size(); ++k) {
      wrong += k < line.cut ? 1.0 - chance[k] : chance[k];
    }
  }
  return wrong;
}

// What is known of the abilities and of those on the day of the heats to come.
stats::NormalMixture ahead(const HeatBeliefs& told, bool same_day) {
  stats::NormalMixture out;
  const auto n = static_cast<Index>(told.values.size());
  for (std::size_t p = 0; p < told.today.parts.size(); ++p) {
    if (told.today.weights[p] < least_weight) {
      continue;
    }
    stats::JointNormal part = told.today.parts[p];
    if (!same_day) {
      const MatrixXd own = part.covariance.topLeftCorner(n, n);
      part.mean.tail(n) = part.mean.head(n);
      part.covariance.topRightCorner(n, n) = part.covariance.bottomLeftCorner(n, n) = own;
      part.covariance.bottomRightCorner(n, n) = own;
      part.covariance.bottomRightCorner(n, n).diagonal() += told.day_sd.array().square().matrix();
    }
    out.weights.push_back(told.today.weights[p]);
    out.parts.push_back(std::move(part));
  }
  const double sum = std::accumulate(out.weights.begin(), out.weights.end(), 0.0);
  for (double& weight : out.weights) {
    weight /= sum;
  }
  return out;
}

// One evening: who they are is drawn, they run, the judge sees them, and what is known then is held against the lines.
double wrong_after(const NextRound& next, const stats::NormalMixture& before, std::uint64_t seed, std::size_t world) {
  stats::RandomStream random(seed, world);
  if (next.heats.empty()) {
    return wrong_cuts(next, before, random);
  }
  const double pick = random.uniform();
  std::size_t part = 0;
  for (double sum = before.weights[0]; sum < pick && part + 1 < before.parts.size();) {
    sum += before.weights[++part];
  }
  const stats::JointNormal& truth = before.parts[part];
  VectorXd z(truth.mean.size());
  for (Index k = 0; k < z.size(); ++k) {
    z(k) = random.normal();
  }
  const VectorXd is = truth.mean + root_of(truth.covariance) * z;
  const auto n = static_cast<Index>(next.told.values.size());
  stats::Arrivals seen;
  seen.eye_sd = next.told.eye_sd;
  for (const std::vector<std::size_t>& heat : next.heats) {
    std::vector<std::pair<double, std::size_t>> came;
    for (const std::size_t child : heat) {
      const std::size_t quantity = static_cast<std::size_t>(n) + child;
      const double run_sd = next.told.run_sd(static_cast<Index>(child));
      const double at = is(static_cast<Index>(quantity)) + run_sd * random.normal() + seen.eye_sd * random.normal();
      came.emplace_back(at, seen.add_run(quantity, run_sd));
    }
    std::sort(came.begin(), came.end());
    std::vector<std::vector<std::size_t>> groups;
    for (const auto& [at, run] : came) {
      groups.push_back({run});
    }
    seen.add_order(groups, {}, 0.0);
  }
  stats::NormalMixture after;
  std::vector<double> evidence;
  for (const stats::JointNormal& one : before.parts) {
    seen.mean = one.mean;
    seen.covariance = one.covariance;
    stats::OrderFit fit = stats::fit_order(seen);
    evidence.push_back(fit.log_evidence);
    after.parts.push_back(std::move(fit.z));
  }
  const double most = *std::max_element(evidence.begin(), evidence.end());
  double sum = 0.0;
  for (std::size_t p = 0; p < evidence.size(); ++p) {
    after.weights.push_back(before.weights[p] * std::exp(evidence[p] - most));
    sum += after.weights.back();
  }
  for (double& weight : after.weights) {
    weight /= sum;
  }
  return wrong_cuts(next, after, random);
}

double mean_wrong_after(const NextRound& next, bool same_day, std::uint64_t seed, unsigned threads) {
  const stats::NormalMixture before = ahead(next.told, same_day);
  const std::size_t worlds = std::clamp<std::size_t>(
      20 * most_worlds / std::max<std::size_t>(1, next.told.values.size()), least_worlds, most_worlds);
  std::vector<double> wrong(worlds);
  stats::for_each_index(worlds, threads, [&](std::size_t w) { wrong[w] = wrong_after(next, before, seed, w); });
  return std::accumulate(wrong.begin(), wrong.end(), 0.0) / static_cast<double>(worlds);
}

}  // namespace

void give_next_heats(std::span<const Ranked> players, std::span<const std::size_t> heard, const HeatBeliefs& told,
                     const HeatsSummary& ran, const std::string& course, unsigned threads, StandingsResult& result) {
  NextRound next{told, {}, {}};
  std::vector<std::pair<double, std::size_t>> open;  // how undecided, into players
  for (std::size_t g = 0; g < result.groups.size(); ++g) {
    Line line;
    for (std::size_t i = 0; i < players.size(); ++i) {
      if (players[i].standing.group == g) {
        line.members.push_back(heard[i]);
      }
    }
    line.cut = result.groups[g].cut.value_or(0);
    if (line.cut == 0 || line.cut >= line.members.size()) {
      continue;
    }
    for (std::size_t i = 0; i < players.size(); ++i) {
      const double p = players[i].standing.p_in_cut.value_or(0.0);
      if (players[i].standing.group == g && std::min(p, 1.0 - p) > nearly_sure) {
        open.emplace_back(-std::min(p, 1.0 - p), i);
      }
    }
    next.lines.push_back(std::move(line));
  }
  if (next.lines.empty()) {
    return;
  }
  std::sort(open.begin(), open.end());
  std::vector<std::size_t> more(players.size(), 0);
  std::size_t left = result.next_runs_asked;
  for (std::size_t round = 0; round < result.most_each && left >= 2 && open.size() >= 2; ++round) {
    const std::size_t run = std::min(left, open.size());
    HeatsOfRound before;
    for (const std::vector<std::string>& field : ran.fields) {
      std::vector<std::size_t> heat;
      for (std::size_t k = 0; k < run; ++k) {
        const std::string& id = players[open[k].second].standing.player;
        if (std::find(field.begin(), field.end(), id) != field.end()) {
          heat.push_back(k);
        }
      }
      if (heat.size() == field.size()) {
        before.push_back(std::move(heat));
      }
    }
    const HeatsOfRound drawn = draw_heats(run, most_in_heat, 1, result.seed + round, before).front();
    for (const auto& heat : drawn) {
      std::vector<std::string> ids;
      std::vector<std::size_t> who;
      for (const std::size_t k : heat) {
        ids.push_back(players[open[k].second].standing.player);
        who.push_back(heard[open[k].second]);
        ++more[open[k].second];
      }
      result.next_heats.push_back(std::move(ids));
      next.heats.push_back(std::move(who));
    }
    left -= run;
  }
  for (const auto& [doubt, i] : open) {
    if (more[i] > 0) {
      result.next_runs.push_back({players[i].standing.player, more[i], course});
    }
  }
  std::stable_sort(result.next_runs.begin(), result.next_runs.end(),
                   [](const MoreRuns& a, const MoreRuns& b) { return a.runs > b.runs; });
  RunsWorth worth;
  NextRound none{told, next.lines, {}};
  worth.now = mean_wrong_after(none, true, result.seed, threads);
  // More is never worse in expectation, but for what the simulation scatters.
  const auto after = [&](bool same_day) {
    return next.heats.empty() ? worth.now : std::min(worth.now, mean_wrong_after(next, same_day, result.seed, threads));
  };
  worth.after = after(true);
  worth.after_another_day = after(false);
  result.worth = worth;
}

}  // namespace bagsplit::jobs::detail
