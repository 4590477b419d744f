#include "bagsplit/inference/reading/best_path_losses.hpp"

#include <algorithm>
#include <cmath>
#include <utility>

#include "bagsplit/motion/curve.hpp"

namespace bagsplit::inference {

namespace {

constexpr double z_95 = 1.6448536269514722;
constexpr double root_3 = 1.7320508075688772;

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

inference::TermMeans LossMeans::callback() const {
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

void LossMeans::regrid(const inference::PlayerData& data) {
  grid.emplace(data);
  on_grid.clear();
  for (const auto& term : terms) {
    std::vector<double>& values = on_grid.emplace_back();
    for (std::size_t i = 0; i < grid->weight.size(); ++i) {
      values.push_back(term.second(grid->log_top_speed[i], grid->log_time_constant[i]));
    }
  }
}

PriorGrid::PriorGrid(const inference::PlayerData& data) {
  const inference::PriorRule& rule = inference::prior_rule();
  const inference::SlowingSprints slowing(data);
  constexpr int n = inference::PriorRule::points;
  const inference::Normal& v = data.log_top_speed;
  const inference::Normal& tau = data.log_time_constant;
  for (int i = 0; i < n; ++i) {
    for (int j = 0; j < n; ++j) {
      weight.push_back(rule.weight[i] * rule.weight[j]);
      log_top_speed.push_back(inference::log_at_node(v, rule.z[i]));
      log_time_constant.push_back(
          inference::log_at_node(tau, inference::log_time_constant_z(data, rule.z[i], rule.z[j])));
      sprints.push_back(slowing(std::exp(log_top_speed.back()), std::exp(log_time_constant.back())));
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

void LossMeans::set_share(Estimate& estimate, const inference::PlayerData& data, std::span<const std::uint32_t> some,
                          std::vector<double> values, std::span<const double> coefficients) const {
  values.resize(grid->weight.size());
  const inference::PriorOfTerms prior = inference::prior_of_terms(data, some, coefficients);
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

LossMeans expect_best_path(Assembled& assembled, const basepath::LossTable& table, const inference::ModelFile& model) {
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

}  // namespace bagsplit::inference
