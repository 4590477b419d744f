#include "bagsplit/inference/posterior/posterior.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <numeric>
#include <stdexcept>
#include <utility>

#include "bagsplit/inference/likelihood/detail/likelihood.hpp"
#include "bagsplit/inference/likelihood/detail/slip_mixture.hpp"
#include "bagsplit/inference/posterior/detail/lattice_growth.hpp"
#include "bagsplit/inference/posterior/detail/posterior_mode.hpp"
#include "bagsplit/inference/posterior/detail/posterior_range.hpp"
#include "bagsplit/inference/posterior/detail/quantiles.hpp"
#include "bagsplit/stats/detail/elementary.hpp"

namespace bagsplit::inference {

namespace {

constexpr double log_cut = 8.5;
constexpr double range_log_cut = 7.0;          // what the lattice must reach: a little less than it grows to
constexpr double widest_unfollowed_sd = 0.45;  // of a prior of log V or log tau: twice what ages and squads leave open
constexpr double coarse_log_cut = 6.0;
constexpr double coarse_spacing = 1.3;
constexpr double tolerance = 0.06;  // of Lattice::coarseness: leaves about 1e-5 of the mass
// Sets of slips so far below the likeliest (logarithm) are left out, and all but so many.
constexpr double slip_cut = 7.0;
constexpr std::size_t most_sets = 40;
constexpr double coarse_slip_cut = 5.0;
constexpr std::size_t coarse_most_sets = 16;
// Of one slip, for slips to be summed over: 2 in 100 then, in a sweep 8. Among twenty readings that are right some slip
// or other is that likely, none of them for itself.
constexpr double least_log_odds = -4.0;
constexpr double coarse_least_log_odds = -2.5;
constexpr double least_apart = 0.05;         // of a set of slips that stands apart
constexpr double least_weight_apart = 1e-7;  // of a node of such a set
constexpr double sd_floor = 1e-6;            // a prior sd of 0 fixes a value: treated as this

}  // namespace

std::string_view describe(PosteriorStatus status) {
  switch (status) {
    case PosteriorStatus::converged:
      return "converged";
    case PosteriorStatus::refined:
      return "converged after refining the quadrature";
    case PosteriorStatus::not_certified:
      return "the quadrature did not settle; the estimates are not to be used";
  }
  return "";
}

Posterior::Posterior(const PlayerData& data, const TermMeans& term_means, const PosteriorEffort& effort) : data_(data) {
  data_.log_top_speed.sd = std::max(data_.log_top_speed.sd, sd_floor);
  data_.log_time_constant.sd = std::max(data_.log_time_constant.sd, sd_floor);
  PlayerLikelihood likelihood(data_, term_means);
  active_.assign(likelihood.active_terms().begin(), likelihood.active_terms().end());
  const bool may_slip = data_.slips.rate > 0.0 && likelihood.mark_count() > 0;
  if (!may_slip || !integrate_slips(likelihood, effort)) {
    const double mean_m = mean_distance_m(data_);
    status_ = integrate(likelihood, SprintCoordinates(data_, mean_m), effort);
    const double precise_m = precise_distance_m(data_);
    if (!usable() && !effort.coarse && precise_m != mean_m) {
      status_ = std::max(PosteriorStatus::refined, integrate(likelihood, SprintCoordinates(data_, precise_m), effort));
    }
    lattice_.log_evidence -= std::log(all_fit_);
  }
  if (data_.late_slowing_per_s > 0.0) {
    const SlowingSprints slowing(data_);
    for (std::vector<motion::Sprint>* const sprints : {&lattice_.sprints, &by_set_.sprints}) {
      for (motion::Sprint& sprint : *sprints) {
        sprint = slowing(sprint.top_speed_mps, sprint.time_constant_s);
      }
    }
  }
  if (!effort.coarse) {
    along_first_ = LatticeRows(lattice_, true);
    along_second_ = LatticeRows(lattice_, false);
  }
}

// @return false where nothing looks wrong and the posterior does not lie where a linearisation has it: then every
// reading counts in full.
bool Posterior::integrate_slips(PlayerLikelihood& likelihood, const PosteriorEffort& effort) {
  SlipMixture mixture(data_, likelihood);
  const motion::Sprint middle{std::exp(data_.log_top_speed.mean), std::exp(data_.log_time_constant.mean)};
  const motion::Sprint from = effort.near.value_or(middle);
  const SlipMixture::Search found = mixture.search(
      std::log(from.top_speed_mps), std::log(from.time_constant_s), effort.coarse ? coarse_slip_cut : slip_cut,
      effort.coarse ? coarse_most_sets : most_sets, effort.coarse ? coarse_least_log_odds : least_log_odds);
  expected_slips_ = found.expected_slips;
  if (found.looks_clean) {
    all_fit_ = 1.0 / (1.0 + std::exp(found.log_odds));
    if (!found.settled) {
      return false;
    }
  }
  if (!found.looks_clean && (!effort.coarse || effort.name_slips)) {
    mixture.keep_nodes(effort.coarse ? std::numeric_limits<double>::infinity() : least_apart);
  }
  SprintDensity& density = found.looks_clean ? static_cast<SprintDensity&>(likelihood) : mixture;
  const auto integrate_about = [&](double distance_m) {
    const SprintCoordinates coordinates(data_, distance_m);
    // Mean and covariance, from (log V, log tau) to the coordinates by differences of an SD.
    const auto point = [&](double v, double tau) {
      return coordinates.point_of({std::exp(found.log_v + v), std::exp(found.log_tau + tau)});
    };
    const double sv = std::sqrt(found.vv);
    const double st = std::sqrt(found.tt);
    const double r = found.vt / (sv * st);
    const SprintCoordinates::Point by_v{(point(sv, 0.0).u - point(-sv, 0.0).u) / 2.0,
                                        (point(sv, 0.0).w - point(-sv, 0.0).w) / 2.0};
    const SprintCoordinates::Point by_tau{(point(0.0, st).u - point(0.0, -st).u) / 2.0,
                                          (point(0.0, st).w - point(0.0, -st).w) / 2.0};
    const double uu = by_v.u * by_v.u + 2.0 * r * by_v.u * by_tau.u + by_tau.u * by_tau.u;
    const double uw = by_v.u * by_v.w + r * (by_v.u * by_tau.w + by_v.w * by_tau.u) + by_tau.u * by_tau.w;
    const double ww = by_v.w * by_v.w + 2.0 * r * by_v.w * by_tau.w + by_tau.w * by_tau.w;
    const double det = uu * ww - uw * uw;
    const LatticeFrame frame(coordinates, point(0.0, 0.0), {ww / det, -uw / det, uu / det});
    return lay(density, frame, effort);
  };
  status_ = integrate_about(mean_distance_m(data_));
  if (!usable() && !effort.coarse) {
    status_ = std::max(PosteriorStatus::refined, integrate_about(precise_distance_m(data_)));
  }
  if (found.looks_clean) {
    if (usable()) {
      lattice_.log_evidence -= std::log(all_fit_);
    }
    return usable();
  }
  if (!effort.coarse || effort.name_slips) {
    summarise(mixture);
    tell_sets_apart(mixture);
  }
  return true;
}

void Posterior::summarise(const SlipMixture& mixture) {
  const std::size_t n = mixture.used().size();
  // The last ones are those of the lattice as it is.
  const std::span<const SlipMixture::Node> nodes = mixture.nodes().last(lattice_.size());
  std::vector<double> probability(n, 0.0);
  std::vector<double> size(n, 0.0);
  std::vector<double> square(n, 0.0);
  std::vector<double> sets(nodes.front().sets.size(), 0.0);
  slip_of_reading_.assign(data_.readings.size(), 0.0);
  all_fit_ = 0.0;
  for (std::size_t i = 0; i < nodes.size(); ++i) {
    const double weight = lattice_.weights[i];
    all_fit_ += weight * nodes[i].none;
    for (std::size_t k = 0; k < sets.size(); ++k) {
      sets[k] += weight * nodes[i].sets[k];
    }
    for (std::size_t a = 0; a < n; ++a) {
      probability[a] += weight * nodes[i].probability[a];
      size[a] += weight * nodes[i].size[a];
      square[a] += weight * nodes[i].size_square[a];
    }
    for (std::size_t r = 0; r < slip_of_reading_.size(); ++r) {
      slip_of_reading_[r] += weight * nodes[i].reading[r];
    }
  }
  slip_groups_ = mixture.groups(sets);
  expected_slips_ = 0.0;
  for (std::size_t a = 0; a < n; ++a) {
    const SlipColumn& column = mixture.column(mixture.used()[a]);
    expected_slips_ += probability[a];
    const double mean = size[a] / probability[a];
    const double longest = *std::max_element(column.by_mark.begin(), column.by_mark.end());
    slips_.push_back({column.kind, column.reading, column.mark, probability[a], longest * mean,
                      longest * std::sqrt(std::max(square[a] / probability[a] - mean * mean, 0.0))});
  }
}

void Posterior::tell_sets_apart(const SlipMixture& mixture) {
  if (slip_groups_.size() == 1) {
    slip_groups_.clear();
    return;
  }
  const std::span<const SlipMixture::Node> nodes = mixture.nodes().last(lattice_.size());
  const std::size_t q = active_.size();
  for (std::size_t i = 0; i < nodes.size(); ++i) {
    for (std::size_t group = 0; group < slip_groups_.size(); ++group) {
      const double weight = lattice_.weights[i] * nodes[i].group[group];
      if (group > 0 && weight < least_weight_apart) {
        continue;
      }
      place_.push_back(static_cast<std::uint32_t>(i));
      group_of_node_.push_back(static_cast<std::uint32_t>(group));
      by_set_.weights.push_back(weight);
      by_set_.sprints.push_back(lattice_.sprints[i]);
      const auto means = std::span(nodes[i].means).subspan(group * q, q);
      const auto covariance = std::span(nodes[i].covariances).subspan(group * q * q, q * q);
      by_set_.means.insert(by_set_.means.end(), means.begin(), means.end());
      by_set_.covariances.insert(by_set_.covariances.end(), covariance.begin(), covariance.end());
    }
  }
  const double total = std::accumulate(by_set_.weights.begin(), by_set_.weights.end(), 0.0);
  for (double& weight : by_set_.weights) {
    weight /= total;
  }
}

// A function of the sprint at the nodes of the lattice.
std::vector<double> Posterior::on_lattice(std::span<const double> values) const {
  if (values.size() != size()) {
    throw std::invalid_argument("of_sprint: values must have one entry a node");
  }
  std::vector<double> out(values.begin(), values.end());
  if (!place_.empty()) {
    out.resize(lattice_.size());
    for (std::size_t i = 0; i < place_.size(); ++i) {
      out[place_[i]] = values[i];
    }
  }
  return out;
}

PosteriorStatus Posterior::integrate(SprintDensity& density, const SprintCoordinates& coordinates,
                                     const PosteriorEffort& effort) {
  const PosteriorMode mode = find_mode(density, coordinates, effort.near);
  return lay(density, LatticeFrame(coordinates, mode.point, mode.curvature), effort);
}

PosteriorStatus Posterior::lay(SprintDensity& density, const LatticeFrame& frame, const PosteriorEffort& effort) {
  mode_ = frame.place(0.0, 0.0).sprint();
  LatticeGrower grower(density, frame, effort.coarse ? coarse_log_cut : log_cut);
  if (effort.coarse) {
    grower.grow(coarse_spacing, lattice_);
    return std::isfinite(lattice_.coarseness) ? PosteriorStatus::converged : PosteriorStatus::not_certified;
  }
  // The ridge of a posterior that readings tell hardly bends, and the mass at every other node then tells of a cut as
  // well; where the prior lets it go far, or the nodes had to come closer, it is followed by itself.
  const bool wide = std::max(data_.log_top_speed.sd, data_.log_time_constant.sd) > widest_unfollowed_sd;
  const auto settled_at = [&](double spacing) {
    grower.grow(spacing, lattice_);
    return lattice_.coarseness <= tolerance &&
           ((spacing == 1.0 && !wide) || reaches_all(density, frame, grower, lattice_, range_log_cut));
  };
  if (settled_at(1.0)) {
    return PosteriorStatus::converged;
  }
  return settled_at(0.5) || settled_at(0.25) ? PosteriorStatus::refined : PosteriorStatus::not_certified;
}

Posterior::WeighedTerms Posterior::with_late(std::vector<std::uint32_t> terms, double distance_m) const {
  WeighedTerms out{std::move(terms), {}};
  out.coefficients.assign(out.terms.size(), 1.0);
  if (const auto late = data_.late_term(); late && distance_m > 0.0) {
    const motion::Sprint usual = SlowingSprints(data_)(mode_.top_speed_mps, mode_.time_constant_s);
    const double by_late = coefficient_of(data_, *late, usual, 0.0, distance_m);
    if (std::fabs(by_late) * data_.terms[*late].sd > 0.001) {
      out.terms.push_back(*late);
      out.coefficients.push_back(by_late);
    }
  }
  return out;
}

bool Posterior::is_active(std::uint32_t term) const {
  return std::binary_search(active_.begin(), active_.end(), term);
}

SprintMarginal Posterior::distribution_of_sprint(std::span<const double> values) const {
  return {lattice_, along_first_, along_second_, on_lattice(values)};
}

Estimate Posterior::of_sprint(std::span<const double> values, double level,
                              std::optional<double> prior_variance) const {
  const Levels levels = levels_of(level);
  const SprintMarginal marginal = distribution_of_sprint(values);
  const std::span<const double> weights = this->weights();
  Estimate estimate;
  for (std::size_t i = 0; i < size(); ++i) {
    estimate.mean += weights[i] * values[i];
  }
  CentralMoments moments;
  for (std::size_t i = 0; i < size(); ++i) {
    const double d = values[i] - estimate.mean;
    const double wd2 = weights[i] * d * d;
    moments.m2 += wd2;
    moments.m3 += wd2 * d;
    moments.m4 += wd2 * d * d;
  }
  const double sd = moments.sd();
  estimate.sd = sd;
  if (prior_variance) {
    estimate.share_from_data = 1.0 - moments.m2 / *prior_variance;
  }
  if (!(sd > 0.0)) {
    estimate.lo = estimate.median = estimate.hi = estimate.mean;
    return estimate;
  }
  set_quantiles(
      estimate, levels, [&](double c, double& cdf, double& density) { marginal.evaluate(c, cdf, density); },
      [&](double z) {
        return std::clamp(estimate.mean + sd * moments.quantile_near(z), marginal.lowest(), marginal.highest());
      },
      marginal.lowest(), marginal.highest(), sd);
  return estimate;
}

void Posterior::mixture(std::span<const double> values, std::span<const std::uint32_t> terms, std::span<double> means,
                        std::span<double> sds) const {
  mixture(values, terms, {}, means, sds);
}

void Posterior::mixture(std::span<const double> values, std::span<const std::uint32_t> terms,
                        std::span<const double> coefficients, std::span<double> means, std::span<double> sds) const {
  if ((!values.empty() && values.size() != size()) || means.size() != size() || sds.size() != size() ||
      (!coefficients.empty() && coefficients.size() != terms.size())) {
    throw std::invalid_argument("mixture: one entry a node, one coefficient a term is needed");
  }
  const std::size_t q = active_.size();
  double inactive_mean = 0.0;
  double inactive_variance = 0.0;
  std::array<std::uint32_t, max_linear_terms> place{};
  std::array<double, max_linear_terms> factor{};
  std::size_t count = 0;
  for (std::size_t t = 0; t < terms.size(); ++t) {
    const double coefficient = coefficients.empty() ? 1.0 : coefficients[t];
    const auto it = std::lower_bound(active_.begin(), active_.end(), terms[t]);
    if (it != active_.end() && *it == terms[t]) {
      factor[count] = coefficient;
      place[count++] = static_cast<std::uint32_t>(it - active_.begin());
    } else {
      const Normal& prior = data_.terms.at(terms[t]);
      inactive_mean += coefficient * prior.mean;
      inactive_variance += stats::square(coefficient * prior.sd);
    }
  }
  for (std::size_t i = 0; i < size(); ++i) {
    double mean = (values.empty() ? 0.0 : values[i]) + inactive_mean;
    double variance = inactive_variance;
    const double* const node_means = nodes().means.data() + i * q;
    const double* const node_covariance = nodes().covariances.data() + i * q * q;
    for (std::size_t a = 0; a < count; ++a) {
      mean += factor[a] * node_means[place[a]];
      for (std::size_t b = 0; b < count; ++b) {
        variance += factor[a] * factor[b] * node_covariance[place[a] * q + place[b]];
      }
    }
    means[i] = mean;
    sds[i] = std::sqrt(std::max(variance, 0.0));
  }
}

Estimate Posterior::of_terms(std::span<const std::uint32_t> terms, double level) const {
  std::vector<double> means(size());
  std::vector<double> sds(size());
  mixture({}, terms, means, sds);
  Estimate estimate = summarise_mixture(weights(), means, sds, level);
  const double prior_variance = prior_variance_of_terms(data_, terms);
  if (prior_variance > 0.0) {
    estimate.share_from_data = 1.0 - stats::square(estimate.sd) / prior_variance;
  }
  return estimate;
}

}  // namespace bagsplit::inference
