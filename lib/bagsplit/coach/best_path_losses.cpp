#include "bagsplit/coach/best_path_losses.hpp"

#include <algorithm>
#include <cmath>
#include <utility>

#include "bagsplit/motion/curve.hpp"

namespace bagsplit::coach {

namespace {

constexpr double z_95 = 1.6448536269514722;
constexpr double root_3 = 1.7320508075688772;
// Beyond the table its edge is used: harmless for a few sprints that start impossibly hard, where losses hardly change.
constexpr double least_inside = 0.9;

}  // namespace

std::optional<ExpectedLoss> ExpectedLoss::of(const basepath::LossTable& table, std::string_view key,
                                             double base_distance_m) {
  const basepath::RangedDefault range = basepath::default_lateral_mps2();
  const double step = std::exp(root_3 * std::log(range.high / range.low) / (2.0 * z_95));
  std::array<basepath::LossSurface, 3> surfaces;
  const std::array laterals{range.value / step, range.value, range.value * step};
  for (std::size_t k = 0; k < laterals.size(); ++k) {
    const auto surface = table.segment_loss(key, base_distance_m, laterals[k]);
    if (!surface) {
      return std::nullopt;
    }
    surfaces[k] = *surface;
  }
  ExpectedLoss out;
  out.surfaces_ = std::make_shared<const std::array<basepath::LossSurface, 3>>(std::move(surfaces));
  return out;
}

ExpectedLoss::Cells ExpectedLoss::cells(double log_top_speed, double log_time_constant) const {
  Cells out;
  for (std::size_t k = 0; k < out.size(); ++k) {
    out[k] = (*surfaces_)[k].cell(log_top_speed, log_time_constant);
  }
  return out;
}

double ExpectedLoss::at(const Cells& cells) const {
  const auto& surfaces = *surfaces_;
  return (surfaces[0].at(cells[0]) + 4.0 * surfaces[1].at(cells[1]) + surfaces[2].at(cells[2])) / 6.0;
}

double ExpectedLoss::operator()(double log_top_speed, double log_time_constant) const {
  return at(cells(log_top_speed, log_time_constant));
}

sprint::TermMeans LossMeans::callback() const {
  if (terms.empty()) {
    return {};
  }
  return [this](const motion::Sprint& sprint, std::span<double> means) {
    const double v = std::log(sprint.top_speed_mps);
    const double tau = std::log(sprint.time_constant_s);
    const ExpectedLoss::Cells cells = terms.front().second.cells(v, tau);
    for (std::size_t k = 0; k < terms.size(); ++k) {
      means[terms[k].first] += terms[k].second.at(cells) - at_centre[k];
    }
  };
}

void LossMeans::regrid(const sprint::PlayerData& data) {
  grid.emplace(data);
  on_grid.clear();
  for (const auto& term : terms) {
    std::vector<double>& values = on_grid.emplace_back();
    for (std::size_t i = 0; i < grid->weight.size(); ++i) {
      values.push_back(term.second(grid->log_top_speed[i], grid->log_time_constant[i]));
    }
  }
}

PriorGrid::PriorGrid(const sprint::PlayerData& data) {
  const sprint::PriorRule& rule = sprint::prior_rule();
  constexpr int n = sprint::PriorRule::points;
  const sprint::Normal& v = data.log_top_speed;
  const sprint::Normal& tau = data.log_time_constant;
  for (int i = 0; i < n; ++i) {
    for (int j = 0; j < n; ++j) {
      weight.push_back(rule.weight[i] * rule.weight[j]);
      log_top_speed.push_back(sprint::log_at_node(v, rule.z[i]));
      log_time_constant.push_back(sprint::log_at_node(tau, sprint::log_time_constant_z(data, rule.z[i], rule.z[j])));
      sprints.push_back({std::exp(log_top_speed.back()), std::exp(log_time_constant.back())});
    }
  }
}

std::vector<double> PriorGrid::of(const basepath::LossSurface& loss) const {
  std::vector<double> out(weight.size());
  for (std::size_t i = 0; i < out.size(); ++i) {
    out[i] = loss(log_top_speed[i], log_time_constant[i]);
  }
  return out;
}

void LossMeans::set_share(Estimate& estimate, const sprint::PlayerData& data, std::span<const std::uint32_t> some,
                          std::vector<double> values) const {
  values.resize(grid->weight.size());
  const sprint::PriorOfTerms prior = sprint::prior_of_terms(data, some);
  double variance = prior.variance_given_sprint;
  for (std::size_t i = 0; i < values.size(); ++i) {
    values[i] +=
        prior.on_log_top_speed * grid->log_top_speed[i] + prior.on_log_time_constant * grid->log_time_constant[i];
  }
  for (const std::uint32_t k : some) {
    const auto known = std::find_if(terms.begin(), terms.end(), [k](const auto& term) { return term.first == k; });
    if (known != terms.end()) {
      const std::vector<double>& means = on_grid[static_cast<std::size_t>(known - terms.begin())];
      for (std::size_t i = 0; i < values.size(); ++i) {
        values[i] += means[i];
      }
    }
  }
  double sum = 0.0;
  double square = 0.0;
  for (std::size_t i = 0; i < values.size(); ++i) {
    const double off = values[i] - values[0];
    sum += grid->weight[i] * off;
    square += grid->weight[i] * off * off;
  }
  variance += square - sum * sum;
  if (variance > 0.0) {
    estimate.share_from_data = 1.0 - estimate.sd * estimate.sd / variance;
  }
}

LossMeans expect_best_path(Assembled& assembled, const basepath::LossTable& table, const sprint::ModelFile& model) {
  LossMeans out;
  if (!assembled.base_distance_m) {
    out.grid.emplace(assembled.data);
    return out;
  }
  for (std::uint32_t k = 0; k < assembled.terms.size(); ++k) {
    const Term& term = assembled.terms[k];
    if (term.kind != TermKind::loss || model.prior.segment_loss_s.contains(term.name)) {
      continue;
    }
    if (const auto mean = ExpectedLoss::of(table, term.name, *assembled.base_distance_m)) {
      assembled.data.terms[k].mean = (*mean)(assembled.data.log_top_speed.mean, assembled.data.log_time_constant.mean);
      out.terms.emplace_back(k, *mean);
      out.at_centre.push_back(assembled.data.terms[k].mean);
    }
  }
  out.regrid(assembled.data);
  return out;
}

void measure_against_best_path(const sprint::Posterior& posterior, const LossMeans& means,
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
  const sprint::PlayerData& data = posterior.data();
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
  Estimate loss = sprint::summarise_mixture(posterior.weights(), centres, sds, level);
  means.set_share(loss, data, terms, minus_on_grid(*surface));
  profile.loss_to_best_path_s = loss;

  BestPathYardstick yardstick;
  yardstick.course = course.name;
  yardstick.lateral_mps2 = lateral.value;
  yardstick.braking_mps2 = lateral.value * table.options().braking_over_lateral;
  for (std::size_t i = 0; i < n; ++i) {
    values[i] = motion::time_to_distance(posterior.sprints()[i], length_m) + (*surface)(log_v[i], log_tau[i]);
  }
  yardstick.time_s = posterior.of_sprint(values, level, std::nullopt);
  std::vector<double> prior_times = means.grid->of(*surface);
  for (std::size_t i = 0; i < prior_times.size(); ++i) {
    prior_times[i] += motion::time_to_distance(means.grid->sprints[i], length_m);
  }
  means.set_share(yardstick.time_s, data, {}, std::move(prior_times));
  profile.path_efficiency = sprint::summarise_efficiency(posterior.weights(), values, centres, sds, level);
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
      Estimate one = sprint::summarise_mixture(posterior.weights(), centres, sds, level);
      means.set_share(one, data, terms.subspan(k, 1), minus_on_grid(*leg));
      profile.loss_to_best_path_by_segment_s.push_back({course.segments[k].key, one});
    }
  }
}

}  // namespace bagsplit::coach
