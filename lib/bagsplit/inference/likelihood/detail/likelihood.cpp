#include "bagsplit/inference/likelihood/detail/likelihood.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <utility>

#include "bagsplit/inference/likelihood/detail/small_cholesky.hpp"
#include "bagsplit/motion/curve.hpp"

namespace bagsplit::inference {

using small::add_scaled;
using small::dot;

namespace {

RunPatterns checked_patterns(const PlayerData& data) {
  validate(data);
  return gather_patterns(data);
}

double log_normal(const Normal& prior, double at) {
  if (!(prior.sd > 0.0)) {
    return 0.0;  // fixed
  }
  const double z = (at - prior.mean) / prior.sd;
  return -(0.5 * z * z + std::log(prior.sd * std::sqrt(2.0 * std::numbers::pi)));
}

}  // namespace

PlayerLikelihood::PlayerLikelihood(const PlayerData& data, TermMeans term_means)
    : prior_log_v_(data.log_top_speed),
      prior_log_tau_(data.log_time_constant),
      day_cv_(data.day_cv),
      sprints_(data),
      term_means_(std::move(term_means)),
      terms_(data.terms),
      patterns_(checked_patterns(data)),
      log_correlation_(data.log_correlation),
      sums_(patterns_.active.size(), patterns_.days),
      adder_(patterns_, data.effort_cv) {
  const std::size_t q = patterns_.active.size();
  for (std::vector<double>* const part : {&times_.time_s, &times_.by_late_s2, &times_.slowness_s_pm}) {
    part->resize(patterns_.distances_m.size());
  }
  by_beam_ = patterns_.weighs(Weigh::beam);
  all_means_.resize(terms_.size());
  prior_mean_.resize(q);
  factor_.resize(q * q);
  line_.resize(q);
  set_joint_prior(data);
}

void PlayerLikelihood::set_joint_prior(const PlayerData& data) {
  const std::vector<std::uint32_t>& active = patterns_.active;
  const std::size_t q = active.size();
  for (const std::uint32_t term : active) {
    active_sd_.push_back(terms_[term].sd);
    if (!data.term_slopes.empty()) {
      slopes_.push_back(data.term_slopes[2 * term]);
      slopes_.push_back(data.term_slopes[2 * term + 1]);
    }
  }
  if (!data.term_correlation.empty()) {
    inverse_correlation_.resize(q * q);
    for (std::size_t r = 0; r < q; ++r) {
      for (std::size_t c = 0; c < q; ++c) {
        inverse_correlation_[r * q + c] = data.term_correlation[active[r] * terms_.size() + active[c]];
      }
    }
    log_det_correlation_ = small::invert(inverse_correlation_, q);
  }
}

void PlayerLikelihood::set_times(const motion::Sprint& sprint) {
  const double scale = 1.0 / (sprint.top_speed_mps * sprint.time_constant_s);
  const bool slows = sprint.late_slowing_per_s > 0.0;
  const double late_m = slows ? motion::late_slowing_from_m(sprint) : 0.0;
  for (std::size_t i = 0; i < patterns_.distances_m.size(); ++i) {
    const double distance_m = patterns_.distances_m[i];
    if (slows && distance_m > late_m) {
      const motion::LateTime late = motion::late_time(sprint, distance_m);
      times_.time_s[i] = late.time_s;
      times_.by_late_s2[i] = late.by_late_slowing_s2;
    } else {
      times_.time_s[i] = sprint.time_constant_s * motion::dimensionless_time(distance_m * scale);
      times_.by_late_s2[i] = 0.0;
    }
    if (by_beam_ && distance_m > 0.0) {
      times_.slowness_s_pm[i] = 1.0 / motion::speed_at_time(sprint, times_.time_s[i]);
    }
  }
}

void PlayerLikelihood::set_times_and_means(double log_top_speed, double log_time_constant) {
  const std::size_t q = patterns_.active.size();
  const motion::Sprint sprint = sprints_(std::exp(log_top_speed), std::exp(log_time_constant));
  set_times(sprint);
  for (std::size_t i = 0; i < terms_.size(); ++i) {
    all_means_[i] = terms_[i].mean;
  }
  if (term_means_) {
    term_means_(sprint, all_means_);
  }
  for (std::size_t i = 0; i < q; ++i) {
    prior_mean_[i] = all_means_[patterns_.active[i]];
  }
  for (std::size_t r = 0; r < slopes_.size() / 2; ++r) {
    prior_mean_[r] += slopes_[2 * r] * (log_top_speed - prior_log_v_.mean) +
                      slopes_[2 * r + 1] * (log_time_constant - prior_log_tau_.mean);
  }
}

// Residuals become y - T - X m.
void PlayerLikelihood::take_off_means() {
  const std::size_t q = patterns_.active.size();
  std::vector<double>& precision = sums_.precision;
  if (patterns_.kept_day < patterns_.days) {
    const std::size_t day = patterns_.day_place;
    for (std::size_t r = 0; r < q; ++r) {
      precision[std::min(r, day) * q + std::max(r, day)] += sums_.day_column[r];
    }
  }
  for (std::size_t r = 0; r < q; ++r) {
    for (std::size_t c = 0; c < r; ++c) {
      precision[r * q + c] = precision[c * q + r];
    }
  }
  std::fill(line_.begin(), line_.end(), 0.0);
  for (std::size_t r = 0; r < q; ++r) {
    add_scaled(line_.data(), prior_mean_[r], &precision[r * q], 0, q);
  }
  for (std::size_t r = 0; r < q; ++r) {
    sums_.quadratic += prior_mean_[r] * (line_[r] - 2.0 * sums_.rhs[r]);
    sums_.rhs[r] -= line_[r];
  }
}

void PlayerLikelihood::integrate_days() {
  const std::size_t q = patterns_.active.size();
  const double day_variance = day_cv_ * day_cv_;
  for (std::size_t d = 0; d < patterns_.days && day_variance > 0.0; ++d) {
    const double* const cross = sums_.day_cross.data() + d * q;
    const double e = sums_.day_rhs[d] - dot(cross, prior_mean_.data(), q);
    const double pivot = 1.0 + day_variance * sums_.day_precision[d];
    const double gain = day_variance / pivot;
    sums_.log_det += std::log(pivot);
    sums_.quadratic -= gain * e * e;
    add_scaled(sums_.rhs.data(), -gain * e, cross, 0, q);
    for (std::size_t r = 0; r < q; ++r) {
      if (cross[r] != 0.0) {
        add_scaled(&sums_.precision[r * q], -gain * cross[r], cross, r, q);
      }
    }
  }
}

double PlayerLikelihood::day_gain(std::size_t day) const {
  return day == patterns_.kept_day ? 0.0 : day_cv_ * day_cv_ / (1.0 + day_cv_ * day_cv_ * sums_.day_precision[day]);
}

// Factor of I + S^1/2 P S^1/2, so that a prior sd of 0 fixes a term and a wide one does no harm.
void PlayerLikelihood::factor_terms() {
  const std::size_t q = patterns_.active.size();
  for (std::size_t r = 0; r < q; ++r) {
    sums_.rhs[r] *= active_sd_[r];
    for (std::size_t c = r; c < q; ++c) {
      factor_[r * q + c] = active_sd_[r] * active_sd_[c] * sums_.precision[r * q + c];
    }
    if (inverse_correlation_.empty()) {
      factor_[r * q + r] += 1.0;
    } else {
      add_scaled(&factor_[r * q], 1.0, &inverse_correlation_[r * q], r, q);
    }
  }
  sums_.log_det += log_det_correlation_;
  small::cholesky(factor_.data(), q);
  small::forward(factor_.data(), q, sums_.rhs.data());
  double diagonal = 1.0;
  for (std::size_t i = 0; i < q; ++i) {
    diagonal *= factor_[i * q + i];
    if ((i & 7U) == 7U) {
      sums_.log_det += 2.0 * std::log(diagonal);
      diagonal = 1.0;
    }
  }
  sums_.log_det += 2.0 * std::log(diagonal);
  sums_.quadratic -= dot(sums_.rhs.data(), sums_.rhs.data(), q);
}

double PlayerLikelihood::with_prior(double log_likelihood, double log_top_speed, double log_time_constant) const {
  const double with_v = log_likelihood + log_normal(prior_log_v_, log_top_speed);
  if (log_correlation_ == 0.0 || !(prior_log_v_.sd > 0.0)) {
    return with_v + log_normal(prior_log_tau_, log_time_constant);
  }
  // log tau given log V
  const double z = (log_top_speed - prior_log_v_.mean) / prior_log_v_.sd;
  return with_v + log_normal({prior_log_tau_.mean + log_correlation_ * prior_log_tau_.sd * z,
                              prior_log_tau_.sd * std::sqrt(1.0 - log_correlation_ * log_correlation_)},
                             log_time_constant);
}

void PlayerLikelihood::evaluate(double log_top_speed, double log_time_constant) {
  set_times_and_means(log_top_speed, log_time_constant);
  sums_.clear();
  for (const RunPattern& pattern : patterns_.patterns) {
    adder_.add(pattern, times_, sums_);
  }
  take_off_means();
  integrate_days();
  factor_terms();
  const double log_likelihood =
      -0.5 * (sums_.quadratic + sums_.log_det + static_cast<double>(mark_count()) * std::log(2.0 * std::numbers::pi));
  log_posterior_ = with_prior(log_likelihood, log_top_speed, log_time_constant);
}

double PlayerLikelihood::log_posterior(double log_top_speed, double log_time_constant) {
  evaluate(log_top_speed, log_time_constant);
  return log_posterior_;
}

double PlayerLikelihood::condition(double log_top_speed, double log_time_constant, std::span<double> means,
                                   std::span<double> covariance) {
  evaluate(log_top_speed, log_time_constant);
  const std::size_t q = patterns_.active.size();
  // With L = U': rows of L^-1, then mean = m + S^1/2 L^-T y and covariance = S^1/2 L^-T L^-1 S^1/2.
  std::vector<double>& inverse = sums_.precision;
  small::invert_factor(factor_.data(), q, inverse);
  std::fill(line_.begin(), line_.end(), 0.0);
  std::fill(covariance.begin(), covariance.end(), 0.0);
  for (std::size_t i = 0; i < q; ++i) {
    const double* const row = &inverse[i * q];
    add_scaled(line_.data(), sums_.rhs[i], row, 0, i + 1);
    for (std::size_t r = 0; r <= i; ++r) {
      add_scaled(&covariance[r * q], row[r], row, 0, r + 1);
    }
  }
  for (std::size_t r = 0; r < q; ++r) {
    means[r] = prior_mean_[r] + active_sd_[r] * line_[r];
    for (std::size_t c = 0; c <= r; ++c) {
      covariance[r * q + c] *= active_sd_[r] * active_sd_[c];
      covariance[c * q + r] = covariance[r * q + c];
    }
  }
  return log_posterior_;
}

}  // namespace bagsplit::inference
