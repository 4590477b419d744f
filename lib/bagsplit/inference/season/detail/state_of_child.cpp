#include "bagsplit/inference/season/detail/state_of_child.hpp"

#include <algorithm>
#include <cmath>
#include <numeric>
#include <utility>

namespace bagsplit::season {

namespace {

/// What is asked, as a linear function of the child's states.
struct Target {
  double growth = 0.0;              // known
  double years = 0.0;               // coefficient of the child's own growth rate and of the squad's
  double prior_var = 0.0;           // of own growth and level
  Eigen::VectorXd with_units = {};  // their covariance with the units
  Eigen::VectorXd shapes = {};      // coefficient of a change of each shape
};

Target target_of(const Fit::State& state, const Asked& asked) {
  const auto& design = state.design;
  const auto& units = state.fitted.units[asked.child];
  const auto response = design.response(asked.level);
  Target target;
  target.shapes.setZero(static_cast<Index>(design.shapes.size()));
  for (const auto& moment : asked.moments) {
    target.growth += moment.weight * response[0] * design.growth_at(asked.child, moment.day);
    target.years += moment.weight * response[0] * design.years_at(moment.day);
    for (std::size_t s = 0; s < design.shapes.size(); ++s) {
      const auto& shape = design.shapes[s];
      target.shapes[static_cast<Index>(s)] +=
          moment.weight * response[static_cast<std::size_t>(shape.part)] * design.shape_at(shape, moment.day);
    }
  }
  target.prior_var = units.growth_var * target.years * target.years;
  target.with_units = units.growth_var * target.years * units.time_yr;
  if (asked.with_level) {
    const double level_var = state.options.level_sd * state.options.level_sd;
    target.prior_var += level_var;
    for (Index u = 0; u < units.size(); ++u) {
      target.with_units[u] += units.level[static_cast<std::size_t>(u)] == asked.level ? level_var : 0.0;
    }
  }
  return target;
}

/// Parts of a mixture, those that count for nothing left out.
struct Parts {
  std::vector<double> weight = {}, mean = {}, sd = {};
  void add(double w, double m, double s) {
    weight.push_back(w);
    mean.push_back(m);
    sd.push_back(s);
  }
  stats::MixtureOfNormals mixture() && {
    const double sum = std::accumulate(weight.begin(), weight.end(), 0.0);
    for (double& w : weight) {
      w /= sum;
    }
    return {weight, std::move(mean), std::move(sd)};
  }
};

constexpr double nothing = 1e-9;

double changed_with_odds(double log_bayes_factor, double odds) {
  return 1.0 / (1.0 + std::exp(-std::clamp(log_bayes_factor, -600.0, 600.0)) / odds);
}

}  // namespace

Answered ask(const Fit::State& state, const Asked& asked) {
  const auto& fitted = state.fitted;
  const auto& child = fitted.children[asked.child];
  const auto& change = fitted.changes[asked.child];
  const auto& units = fitted.units[asked.child];
  const auto& touched = state.design.children[asked.child].touched;
  const auto target = target_of(state, asked);
  // The state given the units: a part known, a part that follows g, a part that follows the change.
  const Eigen::VectorXd reached = child.inverse * target.with_units;
  const double constant = target.growth + reached.dot(units.z);
  const double own_var = std::max(target.prior_var - target.with_units.dot(reached), 0.0);
  Eigen::VectorXd along = -(units.shared.transpose() * reached);
  const auto coefficient = [&](Index place) -> double& {
    return along[std::lower_bound(touched.begin(), touched.end(), place) - touched.begin()];
  };
  coefficient(state.design.places.rate) += target.years;
  if (asked.ground) {
    coefficient(state.design.places.grounds + *asked.ground) += 1.0;
  }
  const Eigen::VectorXd of_change = target.shapes - units.shapes.transpose() * reached;
  const Index k = target.shapes.size();
  Parts whole, beyond;
  for (const auto& point : fitted.points) {
    const auto& view = point.views[asked.child];
    const auto ways = ways_to_change(state.design, change, view, point.size);
    const double changed =
        asked.odds ? changed_with_odds(point.log_bayes_factor[asked.child], *asked.odds) : point.changed[asked.child];
    const double mean = constant + along.dot(view.mean);
    const double var = own_var + along.dot(view.covariance * along);
    const Eigen::VectorXd slope = of_change - ways.moves.transpose() * along;
    whole.add(point.weight * (1.0 - changed), mean, std::sqrt(var));
    beyond.add(point.weight * (1.0 - changed), 0.0, 0.0);
    for (Index i = 0; i < 2 * k; ++i) {
      const double weight = point.weight * changed * ways.weight[i];
      if (weight < nothing) {
        continue;
      }
      const double s = slope[i % k];
      const double b = target.shapes[i % k];
      whole.add(weight, mean + s * ways.mean[i], std::sqrt(var + s * s * ways.var[i]));
      beyond.add(weight, b * ways.mean[i], std::fabs(b) * std::sqrt(ways.var[i]));
    }
  }
  return {std::move(whole).mixture(), std::move(beyond).mixture()};
}

std::vector<double> shape_weights(const Fit::State& state, std::size_t child) {
  const auto& fitted = state.fitted;
  std::vector<double> out(state.design.shapes.size(), 0.0);
  double sum = 0.0;
  for (const auto& point : fitted.points) {
    const auto ways = ways_to_change(state.design, fitted.changes[child], point.views[child], point.size);
    const double weight = point.weight * point.changed[child];
    sum += weight;
    for (std::size_t s = 0; s < out.size(); ++s) {
      const auto i = static_cast<Index>(s);
      out[s] += weight * (ways.weight[i] + ways.weight[i + static_cast<Index>(out.size())]);
    }
  }
  for (double& w : out) {
    w = sum > 0.0 ? w / sum : 0.0;
  }
  return out;
}

Estimate over_points(const Fitted& fitted, const Eigen::VectorXd& coefficients) {
  double mean = 0.0, second = 0.0;
  for (const auto& point : fitted.points) {
    const double m = coefficients.dot(point.squad.mean);
    const double v = coefficients.dot(point.squad.covariance * coefficients);
    mean += point.weight * m;
    second += point.weight * (v + m * m);
  }
  return {mean, std::sqrt(std::max(second - mean * mean, 0.0))};
}

}  // namespace bagsplit::season
