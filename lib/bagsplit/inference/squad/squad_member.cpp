#include "bagsplit/inference/squad/squad_member.hpp"

#include <Eigen/LU>
#include <algorithm>
#include <cmath>
#include <stdexcept>

namespace bagsplit::inference {

using Eigen::Index;
using Eigen::MatrixXd;
using Eigen::VectorXd;

SharedLinks::SharedLinks(const SquadMember& member, std::size_t shared) {
  if (member.shared_of_term.size() != member.data.terms.size() || member.hand.size() != member.data.readings.size()) {
    throw std::invalid_argument("fit_squad: one entry a term and one a reading is needed");
  }
  const std::size_t n = 2 + member.data.terms.size();
  std::vector<std::uint32_t> target(n, not_shared);
  target[0] = member.shared_log_top_speed;
  target[1] = member.shared_log_time_constant;
  std::copy(member.shared_of_term.begin(), member.shared_of_term.end(), target.begin() + 2);
  for (const std::uint32_t k : target) {
    if (k != not_shared) {
      if (k >= shared) {
        throw std::invalid_argument("fit_squad: a member points to a shared quantity that does not exist");
      }
      about.push_back(k);
    }
  }
  std::sort(about.begin(), about.end());
  if (std::adjacent_find(about.begin(), about.end()) != about.end()) {
    throw std::invalid_argument("fit_squad: two coordinates of a member share one quantity");
  }
  coordinates = static_cast<Index>(n);
  const auto add = [&](Index coordinate, std::uint32_t k, double weight) {
    if (k != not_shared && weight != 0.0) {
      parts.push_back({coordinate, std::lower_bound(about.begin(), about.end(), k) - about.begin(), weight});
    }
  };
  add(0, target[0], 1.0);
  add(1, target[0], member.time_constant_on_top_speed);
  add(1, target[1], member.time_constant_on_its_own);
  for (Index a = 2; a < coordinates; ++a) {
    add(a, target[static_cast<std::size_t>(a)], 1.0);
  }
}

double slope_of_loss(const SquadMember& member, std::uint32_t term, double loss_slope_s) {
  constexpr double most_correlated = 0.9;
  const double v = member.data.log_top_speed.sd;
  const double most = v > 0.0 ? most_correlated * member.data.terms[term].sd / v : 0.0;
  // Bends over into the limit: at a corner of the evidence the search for the mode would swing to and fro.
  const double part = most > 0.0 ? loss_slope_s / most : 0.0;
  return most * part / std::pow(1.0 + std::pow(part, 8), 0.125);
}

namespace {

// Own losses L_k = b_k e_V + rest, their variance as it was.
void tie_losses_to_speed(const SquadMember& member, double loss_slope_s, MatrixXd& covariance) {
  const double v = member.data.log_top_speed.sd * member.data.log_top_speed.sd;
  const double v_tau = member.data.log_correlation * member.data.log_top_speed.sd * member.data.log_time_constant.sd;
  for (const std::uint32_t k : member.losses) {
    const auto a = static_cast<Index>(k) + 2;
    const double slope = slope_of_loss(member, k, loss_slope_s);
    covariance(0, a) = covariance(a, 0) = slope * v;
    covariance(1, a) = covariance(a, 1) = slope * v_tau;
    for (const std::uint32_t l : member.losses) {
      if (l != k) {
        covariance(a, static_cast<Index>(l) + 2) = slope * slope_of_loss(member, l, loss_slope_s) * v;
      }
    }
  }
}

}  // namespace

Gaussian prior_of(const SquadMember& member, const SharedLinks& links, const Gaussian& shared,
                  const SquadScales& scales) {
  const Index n = links.coordinates;
  Gaussian prior{VectorXd(n), MatrixXd::Zero(n, n)};
  for (Index a = 0; a < n; ++a) {
    const Normal& own = a == 0   ? member.data.log_top_speed
                        : a == 1 ? member.data.log_time_constant
                                 : member.data.terms[static_cast<std::size_t>(a) - 2];
    prior.mean(a) = own.mean;
    prior.covariance(a, a) = own.sd * own.sd;
  }
  prior.covariance(0, 1) = prior.covariance(1, 0) =
      member.data.log_correlation * member.data.log_top_speed.sd * member.data.log_time_constant.sd;
  if (scales.loss_slope_s != 0.0) {
    tie_losses_to_speed(member, scales.loss_slope_s, prior.covariance);
  }
  for (const SharedLinks::Part& i : links.parts) {
    prior.mean(i.coordinate) += i.weight * shared.mean(i.at);
    for (const SharedLinks::Part& j : links.parts) {
      prior.covariance(i.coordinate, j.coordinate) += i.weight * j.weight * shared.covariance(i.at, j.at);
    }
  }
  if (member.data.day_term) {
    const auto d = static_cast<Index>(*member.data.day_term) + 2;
    prior.covariance(d, d) = scales.day_cv * scales.day_cv;
  }
  return prior;
}

MatrixXd ties_of(const SharedLinks& links, const Gaussian& shared) {
  MatrixXd ties = MatrixXd::Zero(static_cast<Index>(links.about.size()), links.coordinates);
  for (const SharedLinks::Part& part : links.parts) {
    ties.col(part.coordinate) += part.weight * shared.covariance.col(part.at);
  }
  return ties;
}

namespace {

void apply_scales(const SquadMember& member, const SquadScales& scales, PlayerData& data) {
  data.effort_cv = scales.effort_cv;
  data.day_cv = scales.day_cv;
  data.reaction_sd_s = scales.reaction_sd_s;
  for (std::size_t r = 0; r < data.readings.size(); ++r) {
    if (member.hand[r] == 0) {
      continue;
    }
    ReadingData& reading = data.readings[r];
    reading.start_sd_s = scales.press_factor * member.data.readings[r].start_sd_s;
    for (std::uint32_t j = 0; j < reading.mark_count; ++j) {
      data.marks[reading.first_mark + j].sd_s = scales.press_factor * member.data.marks[reading.first_mark + j].sd_s;
    }
  }
  if (data.day_term) {
    data.terms[*data.day_term].sd = scales.day_cv;
  }
}

// Writes a joint prior of (log V, log tau, terms) into the data: the sprint's, and the terms' given the sprint.
void set_joint_prior(const Gaussian& prior, PlayerData& data) {
  const Index n = prior.mean.size();
  const Index p = n - 2;
  const MatrixXd& c = prior.covariance;
  const double sv = std::sqrt(c(0, 0));
  const double st = std::sqrt(c(1, 1));
  data.log_top_speed = {prior.mean(0), sv};
  data.log_time_constant = {prior.mean(1), st};
  data.log_correlation = sv > 0.0 && st > 0.0 ? std::clamp(c(0, 1) / (sv * st), -0.9999, 0.9999) : 0.0;
  Eigen::Matrix2d inverse = Eigen::Matrix2d::Zero();
  if (sv > 0.0 && st > 0.0) {
    inverse = Eigen::Matrix2d(c.topLeftCorner<2, 2>()).inverse();
  } else if (sv > 0.0) {
    inverse(0, 0) = 1.0 / c(0, 0);
  } else if (st > 0.0) {
    inverse(1, 1) = 1.0 / c(1, 1);
  }
  const MatrixXd slopes = c.bottomLeftCorner(p, 2) * inverse;
  const MatrixXd conditional = c.bottomRightCorner(p, p) - slopes * c.topRightCorner(2, p);
  const auto size = static_cast<std::size_t>(p);
  data.term_slopes.resize(2 * size);
  data.term_correlation.assign(size * size, 0.0);
  for (Index k = 0; k < p; ++k) {
    const auto at = static_cast<std::size_t>(k);
    data.terms[at] = {prior.mean(2 + k), std::sqrt(std::max(0.0, conditional(k, k)))};
    data.term_slopes[2 * at] = slopes(k, 0);
    data.term_slopes[2 * at + 1] = slopes(k, 1);
  }
  for (Index k = 0; k < p; ++k) {
    for (Index l = 0; l < p; ++l) {
      const auto at = static_cast<std::size_t>(k);
      const auto other = static_cast<std::size_t>(l);
      const double sds = data.terms[at].sd * data.terms[other].sd;
      data.term_correlation[at * size + other] = k == l      ? 1.0
                                                 : sds > 0.0 ? conditional(k, l) / sds * (1.0 - 1e-9)
                                                             : 0.0;
    }
  }
}

}  // namespace

PlayerData data_under(const SquadMember& member, const Gaussian& prior, const SquadScales& scales) {
  PlayerData data = member.data;
  apply_scales(member, scales, data);
  set_joint_prior(prior, data);
  if (const auto k = data.late_term()) {  // T at the k the others make likely: what is left is linear enough
    Normal& late = data.terms[*k];
    data.late_slowing_per_s = std::max(0.0, data.late_slowing_per_s + late.mean);
    late.mean += member.data.late_slowing_per_s - data.late_slowing_per_s;
  }
  return data;
}

}  // namespace bagsplit::inference
