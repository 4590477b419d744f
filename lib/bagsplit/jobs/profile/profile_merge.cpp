#include <algorithm>
#include <stdexcept>

#include "bagsplit/jobs/profile/detail/profile_job.hpp"
#include "bagsplit/jobs/profile/merge_estimates.hpp"

namespace bagsplit::jobs {

namespace {

// Visits every estimate of a profile, always in the same order.
template <typename Profile, typename Visit>
void each_estimate(Profile& profile, Visit&& visit) {
  const auto optional = [&](auto& estimate) {
    if (estimate) {
      visit(*estimate);
    }
  };
  const auto named = [&](auto& estimates) {
    for (auto& estimate : estimates) {
      visit(estimate.value);
    }
  };
  optional(profile.top_speed_mps);
  optional(profile.time_constant_s);
  optional(profile.max_acceleration_mps2);
  optional(profile.reaction_s);
  named(profile.posture_cost_s);
  named(profile.segment_loss_s);
  named(profile.predicted_time_s);
  named(profile.course_time_s);
  for (auto& at : profile.speed_curve) {
    visit(at.speed_mps);
  }
  named(profile.session_time_s);
  named(profile.straight_efficiency_by_course);
  optional(profile.straight_efficiency);
  optional(profile.path_efficiency);
  optional(profile.loss_to_best_path_s);
  named(profile.loss_to_best_path_by_segment_s);
  if (profile.best_path) {
    visit(profile.best_path->time_s);
  }
  optional(profile.max_force_n);
  optional(profile.max_power_w);
  optional(profile.max_power_w_per_kg);
  for (auto& percentile : profile.percentiles) {
    optional(percentile.percentile);
    optional(percentile.time_s);
    optional(percentile.level_time_s);
  }
}

}  // namespace

PlayerProfile merge_profiles(std::span<const double> point_weights, std::vector<PlayerProfile>& versions,
                             double level) {
  // At the edge of the table of best paths some points may have no yardstick: then the player has none.
  if (!std::all_of(versions.begin(), versions.end(), [](const PlayerProfile& v) { return v.best_path.has_value(); })) {
    for (PlayerProfile& version : versions) {
      version.best_path.reset();
      version.path_efficiency.reset();
      version.loss_to_best_path_s.reset();
      version.loss_to_best_path_by_segment_s.clear();
    }
  }
  PlayerProfile out = std::move(versions.front());
  if (versions.size() == 1) {
    return out;
  }
  std::vector<double> weights(point_weights.begin(), point_weights.end());
  std::vector<std::vector<Estimate>> lists(versions.size());
  each_estimate(out, [&](const Estimate& e) { lists[0].push_back(e); });
  for (std::size_t k = 1; k < versions.size(); ++k) {
    each_estimate(versions[k], [&](const Estimate& e) { lists[k].push_back(e); });
    if (lists[k].size() != lists[0].size()) {
      throw std::logic_error("profile: the points of the squad's design give different quantities");
    }
  }
  std::size_t at = 0;
  std::vector<Estimate> same(versions.size());
  each_estimate(out, [&](Estimate& e) {
    for (std::size_t k = 0; k < lists.size(); ++k) {
      same[k] = lists[k][at];
    }
    e = merge_estimates(weights, same, level);
    ++at;
  });
  for (std::size_t i = 0; out.best_path && i < out.best_path->loss_at.size(); ++i) {
    double& loss = out.best_path->loss_at[i].loss_mean_s;
    loss *= weights[0];
    for (std::size_t k = 1; k < versions.size(); ++k) {
      loss += weights[k] * versions[k].best_path->loss_at[i].loss_mean_s;
    }
  }
  for (std::size_t i = 0; i < out.percentiles.size(); ++i) {
    double limit = 0.0;
    double faster = 0.0;
    for (std::size_t k = 0; k < versions.size(); ++k) {
      const ProfilePercentile& p = k == 0 ? out.percentiles[i] : versions[k].percentiles[i];
      limit += weights[k] * p.share_at_limit;
      faster += weights[k] * p.p_faster.value_or(0.0);
    }
    out.percentiles[i].share_at_limit = std::min(1.0, limit);  // weights sum to 1 but for rounding
    if (out.percentiles[i].p_faster) {
      out.percentiles[i].p_faster = std::min(1.0, faster);
    }
  }
  return out;
}

void take_medians(const PlayerProfile& from, PlayerProfile& to) {
  std::vector<double> medians;
  each_estimate(from, [&](const Estimate& e) { medians.push_back(e.median); });
  std::size_t at = 0;
  each_estimate(to, [&](Estimate& e) { set_median(e, medians.at(at++)); });
}

}  // namespace bagsplit::jobs
