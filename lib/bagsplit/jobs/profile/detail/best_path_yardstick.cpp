#include "bagsplit/jobs/profile/detail/best_path_yardstick.hpp"

#include <cmath>
#include <utility>
#include <vector>

#include "bagsplit/inference/posterior/straight_times.hpp"

namespace bagsplit::jobs {

namespace {

// Beyond the table its edge is used: harmless for a few sprints that start impossibly hard, where losses hardly change.
constexpr double least_inside = 0.9;

}  // namespace

void measure_against_best_path(const inference::Posterior& posterior, const inference::LossMeans& means,
                               const basepath::LossTable& table, const runs::Course& course,
                               std::span<const std::uint32_t> terms, double level, PlayerProfile& profile) {
  const basepath::RangedDefault lateral = basepath::default_lateral_mps2();
  const double base_m = profile.base_distance_m.value();
  const auto surface = table.course_loss(course, base_m, lateral.value);
  if (!surface) {
    return;
  }
  const std::size_t n = posterior.size();
  std::vector<double> log_v(n);
  std::vector<double> log_tau(n);
  double inside = 0.0;
  for (std::size_t i = 0; i < n; ++i) {
    log_v[i] = std::log(posterior.sprints()[i].top_speed_mps);
    log_tau[i] = std::log(posterior.sprints()[i].time_constant_s);
    inside += surface->inside(log_v[i], log_tau[i]) ? posterior.weights()[i] : 0.0;
  }
  if (inside < least_inside) {
    profile.notes.push_back(
        "Speed and base distance lie outside what best paths were computed for: no path efficiency.");
    return;
  }
  const double length_m = runs::segment_end_m(course, course.segments.back(), base_m);
  const inference::PlayerData& data = posterior.data();
  std::vector<double> values(n);
  std::vector<double> centres(n);
  std::vector<double> sds(n);
  const auto fill = [&](const basepath::LossSurface& loss, double sign) {
    for (std::size_t i = 0; i < n; ++i) {
      values[i] = sign * loss(log_v[i], log_tau[i]);
    }
  };
  const auto minus_on_grid = [&](const basepath::LossSurface& loss) {
    std::vector<double> out = means.grid->of(loss);
    for (double& value : out) {
      value = -value;
    }
    return out;
  };

  fill(*surface, -1.0);
  posterior.mixture(values, terms, centres, sds);
  inference::Estimate loss = inference::summarise_mixture(posterior.weights(), centres, sds, level);
  means.set_share(loss, data, terms, minus_on_grid(*surface));
  profile.loss_to_best_path_s = loss;

  BestPathYardstick yardstick;
  yardstick.course = course.name;
  yardstick.lateral_mps2 = lateral.value;
  yardstick.braking_mps2 = lateral.value * table.options().braking_over_lateral;
  values = inference::straight_times_s(posterior, length_m);
  for (std::size_t i = 0; i < n; ++i) {
    values[i] += (*surface)(log_v[i], log_tau[i]);
  }
  yardstick.time_s = posterior.of_sprint(values, level, std::nullopt);
  std::vector<double> prior_times = means.grid->of(*surface);
  for (std::size_t i = 0; i < prior_times.size(); ++i) {
    prior_times[i] += motion::time_to_distance(means.grid->sprints[i], length_m);
  }
  means.set_share(yardstick.time_s, data, {}, std::move(prior_times));
  profile.path_efficiency = inference::summarise_efficiency(posterior.weights(), values, centres, sds, level);
  for (const double other : {lateral.low, lateral.high}) {
    const auto moved = table.course_loss(course, base_m, other);
    double shift = 0.0;
    for (std::size_t i = 0; i < n; ++i) {
      shift += posterior.weights()[i] * ((*moved)(log_v[i], log_tau[i]) - (*surface)(log_v[i], log_tau[i]));
    }
    yardstick.loss_at.push_back({other, loss.mean - shift});
  }
  profile.best_path = yardstick;
  if (course.finish == runs::Finish::stop) {
    profile.notes.push_back(
        "The best path of a run that ends on a bag is at rest there; who touches the bag while still slowing, or "
        "slides, can "
        "beat it.");
  }

  for (std::size_t k = 0; k < terms.size(); ++k) {
    if (const auto leg = table.leg_loss(course, k, base_m, lateral.value)) {
      fill(*leg, -1.0);
      posterior.mixture(values, terms.subspan(k, 1), centres, sds);
      inference::Estimate one = inference::summarise_mixture(posterior.weights(), centres, sds, level);
      means.set_share(one, data, terms.subspan(k, 1), minus_on_grid(*leg));
      profile.loss_to_best_path_by_segment_s.push_back({course.segments[k].key, one});
    }
  }
}

}  // namespace bagsplit::jobs
