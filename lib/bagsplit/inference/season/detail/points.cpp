#include "bagsplit/inference/season/detail/points.hpp"

#include <algorithm>
#include <array>
#include <cmath>

#include "bagsplit/inference/season/detail/slips.hpp"
#include "bagsplit/stats/detail/elementary.hpp"
#include "bagsplit/stats/random.hpp"

namespace bagsplit::season {

namespace {

constexpr std::array<double, 9> shares{0.02, 0.05, 0.1, 0.2, 0.3, 0.4, 0.55, 0.7, 0.9};
constexpr double first_share = 0.2;
constexpr double suspected = 0.3;  // P(slip) from which the scales are fitted once more

/// Prior of the share on its grid: density times width.
std::array<double, shares.size()> log_share_prior(const Options& options) {
  std::array<double, shares.size()> out{};
  for (std::size_t i = 0; i < shares.size(); ++i) {
    const std::size_t lo = i == 0 ? 0 : i - 1;
    const std::size_t hi = std::min(i + 1, shares.size() - 1);
    const double width = (shares[hi] - shares[lo]) / static_cast<double>(hi - lo);
    out[i] = (options.share_a - 1.0) * std::log(shares[i]) + (options.share_b - 1.0) * std::log1p(-shares[i]) +
             std::log(width);
  }
  return out;
}

/// Sums over the share: the evidence factorises over children once the messages stand.
void sum_over_share(const Design& design, const std::vector<ChildFit>& children, Point& point) {
  const auto& options = design.options;
  const double evening = -0.5 * (point.evening_sd / options.evening_scale) * (point.evening_sd / options.evening_scale);
  point.log_weight = point.squad.log_evidence + evening;
  if (options.share_changed) {
    return;
  }
  auto log_weight = log_share_prior(options);
  double believed = 0.0;
  for (std::size_t c = 0; c < children.size(); ++c) {
    if (children[c].shift.size() == 0) {
      continue;
    }
    const double bf = point.log_bayes_factor[c];
    believed += stats::log_add(std::log1p(-point.share), std::log(point.share) + bf);
    for (std::size_t i = 0; i < shares.size(); ++i) {
      log_weight[i] += stats::log_add(std::log1p(-shares[i]), std::log(shares[i]) + bf);
    }
  }
  const double top = *std::max_element(log_weight.begin(), log_weight.end());
  double sum = 0.0;
  for (const double w : log_weight) {
    sum += std::exp(w - top);
  }
  point.log_weight += top + std::log(sum) - believed;
  point.share = 0.0;
  std::fill(point.changed.begin(), point.changed.end(), 0.0);
  for (std::size_t i = 0; i < shares.size(); ++i) {
    const double w = std::exp(log_weight[i] - top) / sum;
    point.share += w * shares[i];
    for (std::size_t c = 0; c < children.size(); ++c) {
      const double odds = (1.0 - shares[i]) / shares[i] * std::exp(-std::min(point.log_bayes_factor[c], 600.0));
      point.changed[c] += children[c].shift.size() == 0 ? 0.0 : w / (1.0 + odds);
    }
  }
}

/// Values of evening_sd that the season does not rule out, the fitted one first.
std::vector<double> evening_values(const Design& design, const Fitted& fitted) {
  if (design.options.scales) {
    return {fitted.scales.evening_sd};
  }
  const double centre = std::max(fitted.scales.evening_sd, 8e-4);
  const auto children = fit_children(fitted.units, design.options, fitted.scales, fitted.scales.slope_sd);
  const std::array<double, 5> steps{0.0, -1.2, -0.6, 0.6, 1.2};
  std::vector<double> values, log_weight;
  for (const double step : steps) {
    auto scales = fitted.scales;
    scales.evening_sd = centre * std::exp(step);
    values.push_back(scales.evening_sd);
    log_weight.push_back(fit_squad(design, children, scales.evening_sd).log_evidence +
                         log_prior(design.options, scales));
  }
  const double top = *std::max_element(log_weight.begin(), log_weight.end());
  std::vector<double> kept;
  for (std::size_t i = 0; i < values.size(); ++i) {
    if (log_weight[i] > top - 4.0) {
      kept.push_back(values[i]);
    }
  }
  return kept;
}

/// One point says about how many changed; all start from its messages and believe that share.
void run_points(const Design& design, Fitted& fitted) {
  std::vector<Point> points;
  for (const double evening : evening_values(design, fitted)) {
    for (const std::size_t size : {std::size_t{1}, std::size_t{0}, std::size_t{2}}) {
      Point point;
      point.evening_sd = evening;
      point.size = design.options.sizes[size];
      points.push_back(std::move(point));
    }
  }
  const auto run = [&](Point& point) {
    propagate(design, fitted.children, fitted.changes, point);
    sum_over_share(design, fitted.children, point);
  };
  Point first;
  first.evening_sd = points[0].evening_sd;
  first.size = points[0].size;
  first.share = design.options.share_changed.value_or(first_share);
  run(first);
  stats::for_each_index(points.size(), design.options.threads, [&](std::size_t i) {
    auto& point = points[i];
    point.share = design.options.share_changed.value_or(std::clamp(first.share, 0.03, 0.8));
    point.message_precision = first.message_precision;
    point.message_shift = first.message_shift;
    run(point);
    point.message_precision.clear();
    point.message_shift.clear();
  });
  double top = points[0].log_weight;
  for (const auto& point : points) {
    top = std::max(top, point.log_weight);
  }
  double sum = 0.0;
  for (auto& point : points) {
    point.weight = std::exp(point.log_weight - top);
    sum += point.weight;
  }
  for (auto& point : points) {
    point.weight /= sum;
    if (point.weight >= 1e-4) {
      fitted.points.push_back(std::move(point));
    }
  }
}

}  // namespace

Fitted fit_design(Design& design) {
  const auto& options = design.options;
  Fitted fitted;
  fitted.slip_rate = options.slips.rate;
  fitted.units.resize(design.children.size());
  stats::for_each_index(design.children.size(), options.threads,
                        [&](std::size_t i) { fitted.units[i] = collapse(design, design.children[i]); });
  const auto rescale = [&] {
    fitted.scales = options.scales ? *options.scales : fit_scales(design, fitted.units, fitted.scales);
  };
  rescale();
  if (options.slips.passes > 0) {
    find_slips(design, fitted.units, fitted.scales, options.slips.passes, fitted.slip_rate);
    const bool any = std::any_of(design.children.begin(), design.children.end(), [](const ChildRows& child) {
      return std::any_of(child.rows.begin(), child.rows.end(), [](const Row& row) { return row.slip > suspected; }) ||
             std::any_of(child.evening_slip.begin(), child.evening_slip.end(), [](double p) { return p > suspected; });
    });
    if (any) {
      rescale();
      find_slips(design, fitted.units, fitted.scales, 2, fitted.slip_rate);
    }
  }
  fitted.children = fit_children(fitted.units, options, fitted.scales, 0.0);
  fitted.changes.resize(fitted.units.size());
  stats::for_each_index(fitted.units.size(), options.threads,
                        [&](std::size_t i) { fitted.changes[i] = fit_changes(fitted.units[i], fitted.children[i]); });
  run_points(design, fitted);
  return fitted;
}

}  // namespace bagsplit::season
