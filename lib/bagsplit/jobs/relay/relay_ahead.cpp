#include <algorithm>
#include <cmath>

#include "bagsplit/jobs/profile/merge_estimates.hpp"
#include "bagsplit/jobs/relay/detail/relay_job.hpp"
#include "bagsplit/stats/assignment.hpp"
#include "bagsplit/stats/distributions.hpp"
#include "bagsplit/stats/ranking.hpp"

namespace bagsplit::jobs {

namespace {

using Eigen::Index;
using Eigen::MatrixXd;

constexpr double worth_reordering_s = 0.02;  // two hundredths: less no watch in hand sees

// What the last date's relays leave of one point's world.
struct Ahead {
  RelayWorld world;
  stats::LinearGaussian::Seen seen;

  Ahead(const RelayJob& job, std::size_t point) : world(job.times, point, job.exchange_mean_s, job.day) {
    if (job.day) {
      const WorldOfRaces races = races_in(world, job, races_on(job.data, *job.day));
      seen = world.times().factors().see(races.observed, races.values);
    }
  }
  stats::JointNormal told(std::span<const stats::LinearQuantity> wanted) {
    return world.times().factors().given(wanted, seen);
  }
};

stats::LinearQuantity expected_total(RelayWorld& world, const PlannedRelay& plan,
                                     std::span<const std::size_t> runner_of_leg) {
  stats::LinearQuantity total;
  for (std::size_t leg = 0; leg < runner_of_leg.size(); ++leg) {
    total.add(world.expected_leg(plan.players[runner_of_leg[leg]], plan.courses[leg], leg == 0));
  }
  return total;
}

BestOrder best_order(const RelayJob& job, const PlannedRelay& plan, std::vector<Ahead>& ahead) {
  const std::size_t n = plan.players.size();
  const auto size = static_cast<Index>(n);
  MatrixXd cost = MatrixXd::Zero(size, size);
  for (std::size_t p = 0; p < ahead.size(); ++p) {
    std::vector<stats::LinearQuantity> wanted;
    for (std::size_t leg = 0; leg < n; ++leg) {
      for (std::size_t runner = 0; runner < n; ++runner) {
        wanted.push_back(ahead[p].world.expected_leg(plan.players[runner], plan.courses[leg], leg == 0));
      }
    }
    const stats::JointNormal told = ahead[p].told(wanted);
    for (Index leg = 0; leg < size; ++leg) {
      cost.col(leg) += job.times.points[p].weight * told.mean.segment(leg * size, size);
    }
  }
  std::vector<std::size_t> given(n);
  for (std::size_t k = 0; k < n; ++k) {
    given[k] = k;
  }
  std::vector<std::size_t> best = stats::cheapest_assignment(cost);
  const std::vector<std::size_t> worst = stats::cheapest_assignment(-cost);
  const auto sum = [&](const std::vector<std::size_t>& order) {
    double s = 0.0;
    for (std::size_t leg = 0; leg < n; ++leg) {
      s += cost(static_cast<Index>(order[leg]), static_cast<Index>(leg));
    }
    return s;
  };
  if (sum(given) - sum(best) < 1e-9) {
    best = given;  // as good: leave it as it is
  }
  BestOrder out;
  std::vector<double> weights;
  std::vector<Estimate> gains;
  for (std::size_t p = 0; p < ahead.size(); ++p) {
    const double weight = job.times.points[p].weight;
    stats::LinearQuantity gain = expected_total(ahead[p].world, plan, given);
    gain.add(expected_total(ahead[p].world, plan, best), -1.0);
    stats::LinearQuantity range = expected_total(ahead[p].world, plan, worst);
    range.add(expected_total(ahead[p].world, plan, best), -1.0);
    const stats::JointNormal told = ahead[p].told(std::vector{gain, range});
    const auto above_zero = [&](Index k) {
      const double sd = std::sqrt(std::max(0.0, told.covariance(k, k)));
      return sd > 1e-9 ? stats::normal_cdf(told.mean(k) / sd) : told.mean(k) > 0.0 ? 1.0 : 0.0;
    };
    weights.push_back(weight);
    gains.push_back(inference::gaussian_estimate(told.mean(0), told.covariance(0, 0), job.options.level));
    out.p_faster += weight * above_zero(0);
    out.best_to_worst_s += weight * told.mean(1);
    out.p_best_to_worst += weight * above_zero(1);
  }
  out.p_faster = std::min(1.0, out.p_faster);  // weights sum to 1 but for rounding
  out.p_best_to_worst = std::min(1.0, out.p_best_to_worst);
  out.gain_s = merge_estimates(weights, gains, job.options.level);
  out.matters = out.best_to_worst_s >= worth_reordering_s && out.p_best_to_worst >= job.options.level;
  for (const std::size_t runner : best) {
    out.players.push_back(job.times.players[plan.players[runner]].player);
  }
  return out;
}

// Totals and who is first, of all together; no best orders.
std::vector<ExpectedRelay> expected_together(const RelayJob& job, const std::vector<PlannedRelay>& planned,
                                             std::vector<Ahead>& ahead, RelayResult& result) {
  std::vector<double> weights;
  stats::NormalMixture totals;
  for (std::size_t p = 0; p < ahead.size(); ++p) {
    weights.push_back(job.times.points[p].weight);
    std::vector<stats::LinearQuantity> wanted;
    for (const PlannedRelay& plan : planned) {
      stats::LinearQuantity& total = wanted.emplace_back();
      for (std::size_t leg = 0; leg < plan.players.size(); ++leg) {
        total.add(ahead[p].world.leg(plan.players[leg], plan.courses[leg], leg == 0, true, std::nullopt).leg);
      }
    }
    totals.parts.push_back(ahead[p].told(wanted));
  }
  totals.weights = weights;
  const bool even = std::all_of(planned.begin(), planned.end(), [&](const PlannedRelay& plan) {
    return plan.players.size() == planned.front().players.size();
  });
  std::vector<double> p_win;
  if (planned.size() > 1 && even) {
    p_win = stats::p_lowest(totals, job.options.draws, job.options.seed);
    result.draws = job.options.draws;
    result.seed = job.options.seed;
  }
  std::vector<ExpectedRelay> out;
  std::vector<Estimate> versions(weights.size());
  for (std::size_t t = 0; t < planned.size(); ++t) {
    ExpectedRelay& expected = out.emplace_back();
    expected.team = planned[t].team;
    for (std::size_t leg = 0; leg < planned[t].players.size(); ++leg) {
      expected.players.push_back(job.times.players[planned[t].players[leg]].player);
      expected.courses.push_back(job.log.courses[job.data.courses[planned[t].courses[leg]].course].name);
    }
    const auto at = static_cast<Index>(t);
    for (std::size_t p = 0; p < weights.size(); ++p) {
      versions[p] =
          inference::gaussian_estimate(totals.parts[p].mean(at), totals.parts[p].covariance(at, at), job.options.level);
    }
    expected.total_s = merge_estimates(weights, versions, job.options.level);
    expected.p_win = p_win.empty() ? std::nullopt : std::optional(stats::shown_by_draws(p_win[t], job.options.draws));
  }
  return out;
}

}  // namespace

void look_ahead(const RelayJob& job, const std::vector<PlannedRelay>& planned, RelayResult& result) {
  if (planned.empty()) {
    return;
  }
  std::vector<Ahead> ahead;
  ahead.reserve(job.times.points.size());
  for (std::size_t p = 0; p < job.times.points.size(); ++p) {
    ahead.emplace_back(job, p);
  }
  result.expected = expected_together(job, planned, ahead, result);
  for (std::size_t t = 0; t < planned.size(); ++t) {
    result.expected[t].best = best_order(job, planned[t], ahead);
  }
  if (planned.size() == 2 && planned[0].courses.size() == planned[1].courses.size() &&
      planned[0].courses != planned[1].courses) {
    std::vector<PlannedRelay> swapped = planned;
    std::swap(swapped[0].courses, swapped[1].courses);
    result.swapped = expected_together(job, swapped, ahead, result);
  }
}

}  // namespace bagsplit::jobs
