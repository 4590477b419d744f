#include "bagsplit/stats/finish_order.hpp"

#include <Eigen/Cholesky>
#include <algorithm>
#include <array>
#include <cmath>
#include <stdexcept>

#include "bagsplit/stats/distributions.hpp"

namespace bagsplit::stats {

namespace {

using Eigen::Index;
using Eigen::MatrixXd;
using Eigen::VectorXd;

constexpr double log_root_two_pi = 0.918938533204672741780;
constexpr int most_sweeps = 60;
constexpr int full_steps = 30;  // after them shorter ones
constexpr double step_length = 0.7, short_step = 0.28;
constexpr double well_settled = 1e-8, just_settled = 1e-3;
constexpr double least_variance = 1e-12;

// log of a normal's mass where a factor holds, with two derivatives by the mean.
struct Tilted {
  double log_mass = 0.0, slope = 0.0, curvature = 0.0;
};

// density / mass of a half line, at z standard deviations inside it: by its series far outside, where the difference
// of logarithms has no digits left.
double mills(double z) {
  if (z > -30.0) {
    return std::exp(-0.5 * z * z - log_root_two_pi - normal_log_cdf(z));
  }
  const double r = 1.0 / (z * z);
  return -z / (1.0 - r + 3.0 * r * r - 15.0 * r * r * r);
}

Tilted tilted_before(double mean, double variance, double gap) {
  const double sd = std::sqrt(variance);
  const double z = (mean - gap) / sd;
  const double ratio = mills(z);
  return {normal_log_cdf(z), ratio / sd, -std::clamp(ratio * (z + ratio), 0.0, 1.0) / variance};
}

Tilted tilted_level(double mean, double variance, double gap) {
  const double sd = std::sqrt(variance);
  const double sign = mean > 0.0 ? -1.0 : 1.0;  // the band is symmetric: look at it from below
  const double low = (sign * mean - gap) / sd;
  const double high = (sign * mean + gap) / sd;
  Tilted out;
  out.log_mass = normal_log_cdf(high) + std::log1p(-std::exp(normal_log_cdf(low) - normal_log_cdf(high)));
  const auto density = [&](double z) { return std::exp(-0.5 * z * z - log_root_two_pi - out.log_mass); };
  const double slope = (density(high) - density(low)) / sd;
  out.slope = sign * slope;
  const double bend = (low * density(low) - high * density(high)) / variance - slope * slope;
  out.curvature = -std::clamp(-bend * variance, 0.0, 1.0) / variance;
  return out;
}

class OrderFitting {
 public:
  explicit OrderFitting(const Arrivals& arrivals) : in_(arrivals), k_(static_cast<Index>(arrivals.seen.size())) {
    check();
    lay_out();
  }

  OrderFit fit() {
    OrderFit out;
    double change = 0.0;
    for (out.sweeps = 0; out.sweeps < most_sweeps; ++out.sweeps) {
      look();
      change = sweep(out.sweeps < full_steps ? step_length : short_step);
      if (change < well_settled) {
        break;
      }
    }
    look();
    out.settled = change < just_settled;
    out.log_evidence = evidence();
    const VectorXd pull = nu_ - tau_.cwiseProduct(mu_);
    const VectorXd root = tau_.cwiseSqrt();
    // (I + T K)^-1 = I - T^1/2 B^-1 T^1/2 K, B = I + T^1/2 K T^1/2.
    const VectorXd weight = pull - root.cwiseProduct(factor_.solve(VectorXd(root.cwiseProduct(gaps_ * pull))));
    out.z.mean = in_.mean + with_gaps_ * weight;
    const MatrixXd scaled = with_gaps_ * root.asDiagonal();
    const MatrixXd taken = scaled * factor_.solve(MatrixXd(scaled.transpose()));
    out.z.covariance = in_.covariance - 0.5 * (taken + taken.transpose());
    return out;
  }

 private:
  void check() const {
    const auto n = in_.mean.size();
    const std::size_t runs = in_.quantity.size();
    bool fits = in_.covariance.rows() == n && in_.covariance.cols() == n && in_.run_sd.size() == runs &&
                std::isfinite(in_.eye_sd) && in_.eye_sd >= 0.0 && in_.mean.allFinite() && in_.covariance.allFinite();
    for (std::size_t r = 0; fits && r < runs; ++r) {
      fits = static_cast<Index>(in_.quantity[r]) < n && in_.run_sd[r] > 0.0 && std::isfinite(in_.run_sd[r]);
    }
    for (std::size_t k = 0; fits && k < in_.seen.size(); ++k) {
      const Arrival& a = in_.seen[k];
      const bool is_reading = a.kind == Arrival::Kind::reading;
      fits = a.run < runs && (is_reading || (a.other < runs && a.other != a.run)) && a.gap >= 0.0 &&
             std::isfinite(a.gap) && (a.kind != Arrival::Kind::level || a.gap > 0.0) &&
             (!is_reading || (std::isfinite(a.value) && a.sd > 0.0 && (!a.bias || static_cast<Index>(*a.bias) < n)));
    }
    if (!fits) {
      throw std::invalid_argument("fit_order: sizes, runs or numbers that do not fit");
    }
  }

  // Gaps d = R z + W (scatter of runs) + E (the eye's error): d of "a before b" is b less a.
  void lay_out() {
    const auto runs = static_cast<Index>(in_.quantity.size());
    MatrixXd on_z = MatrixXd::Zero(k_, in_.mean.size());
    MatrixXd on_runs = MatrixXd::Zero(k_, runs);
    MatrixXd on_eyes = MatrixXd::Zero(k_, runs);
    tau_ = VectorXd::Zero(k_);
    nu_ = VectorXd::Zero(k_);
    for (Index k = 0; k < k_; ++k) {
      const Arrival& a = in_.seen[static_cast<std::size_t>(k)];
      const bool is_reading = a.kind == Arrival::Kind::reading;
      const auto add = [&](std::size_t run, double sign) {
        on_z(k, static_cast<Index>(in_.quantity[run])) += sign;
        on_runs(k, static_cast<Index>(run)) += sign * in_.run_sd[run];
        on_eyes(k, static_cast<Index>(run)) += is_reading ? 0.0 : sign * in_.eye_sd;
      };
      if (is_reading) {
        add(a.run, 1.0);
        if (a.bias) {
          on_z(k, static_cast<Index>(*a.bias)) += 1.0;
        }
        tau_(k) = 1.0 / (a.sd * a.sd);
        nu_(k) = a.value * tau_(k);
      } else {
        add(a.other, 1.0);
        add(a.run, -1.0);
      }
    }
    with_gaps_ = in_.covariance * on_z.transpose();
    gaps_ = on_z * with_gaps_ + on_runs * on_runs.transpose() + on_eyes * on_eyes.transpose();
    mu_ = on_z * in_.mean;
  }

  // Mean and variance of every gap under all factors.
  void look() {
    const VectorXd root = tau_.cwiseSqrt();
    MatrixXd b = root.asDiagonal() * gaps_ * root.asDiagonal();
    b.diagonal().array() += 1.0;
    factor_.compute(b);
    half_ = factor_.matrixL().solve(root.asDiagonal() * gaps_);  // S = K - half' half
    const VectorXd pull = nu_ - tau_.cwiseProduct(mu_);
    mean_ = mu_ + gaps_ * pull - half_.transpose() * (half_ * pull);
    variance_ = (gaps_.diagonal() - half_.colwise().squaredNorm().transpose()).cwiseMax(least_variance);
  }

  struct Cavity {
    double mean = 0.0, variance = 1.0;
    Tilted tilted;
  };
  std::optional<Cavity> cavity(Index k) const {
    const Arrival& a = in_.seen[static_cast<std::size_t>(k)];
    const double precision = 1.0 / variance_(k) - tau_(k);
    if (a.kind == Arrival::Kind::reading || precision <= 1e-9) {
      return std::nullopt;
    }
    Cavity out{(mean_(k) / variance_(k) - nu_(k)) / precision, 1.0 / precision, {}};
    out.tilted = a.kind == Arrival::Kind::before ? tilted_before(out.mean, out.variance, a.gap)
                                                 : tilted_level(out.mean, out.variance, a.gap);
    return out;
  }

  double sweep(double length) {
    double change = 0.0;
    VectorXd tau = tau_;
    VectorXd nu = nu_;
    for (Index k = 0; k < k_; ++k) {
      const auto at = cavity(k);
      const double left = at ? 1.0 + at->variance * at->tilted.curvature : 0.0;
      if (left <= 1e-6) {
        continue;
      }
      const double by_tau = length * (-at->tilted.curvature / left - tau_(k));
      const double by_nu = length * ((at->tilted.slope - at->mean * at->tilted.curvature) / left - nu_(k));
      tau(k) += by_tau;
      nu(k) += by_nu;
      change = std::max(change, std::abs(by_nu) * std::sqrt(variance_(k)) + std::abs(by_tau) * variance_(k));
    }
    tau_ = tau.cwiseMax(0.0);
    nu_ = nu;
    return change;
  }

  double evidence() const {
    double out = 0.0;
    for (Index k = 0; k < k_; ++k) {
      if (const auto at = cavity(k)) {
        const double c = at->mean;
        const double v = at->variance;
        const double joined = c / v + nu_(k);
        out += at->tilted.log_mass + 0.5 * std::log(std::max(1.0 + tau_(k) * v, least_variance)) +
               0.5 * (c * c / v - joined * joined / (1.0 / v + tau_(k)));
      } else if (in_.seen[static_cast<std::size_t>(k)].kind == Arrival::Kind::reading) {
        const double value = in_.seen[static_cast<std::size_t>(k)].value;
        out -= 0.5 * value * value * tau_(k);
      }
    }
    const VectorXd pull = nu_ - tau_.cwiseProduct(mu_);
    const double log_determinant = 2.0 * factor_.matrixLLT().diagonal().array().log().sum();
    return out - 0.5 * log_determinant + nu_.dot(mu_) - 0.5 * tau_.dot(mu_.cwiseProduct(mu_)) +
           0.5 * (pull.dot(gaps_ * pull) - (half_ * pull).squaredNorm());
  }

  const Arrivals& in_;
  Index k_;
  MatrixXd gaps_;       // K
  MatrixXd with_gaps_;  // covariance of z with the gaps
  VectorXd mu_;         // of the gaps, beforehand
  VectorXd tau_, nu_;   // factors exp(nu d - tau d^2 / 2)
  Eigen::LLT<MatrixXd> factor_;
  MatrixXd half_;
  VectorXd mean_, variance_;
};

}  // namespace

std::size_t Arrivals::add_run(std::size_t of, double sd) {
  quantity.push_back(of);
  run_sd.push_back(sd);
  return quantity.size() - 1;
}

void Arrivals::add_order(std::span<const std::vector<std::size_t>> groups, std::span<const std::size_t> behind,
                         double tie_gap) {
  for (std::size_t g = 0; g < groups.size(); ++g) {
    const std::vector<std::size_t>& group = groups[g];
    const double band = tie_gap * static_cast<double>(group.size() - 1);
    const std::span<const std::size_t> next = g + 1 < groups.size() ? std::span(groups[g + 1]) : behind;
    for (std::size_t i = 0; i < group.size(); ++i) {
      for (std::size_t j = i + 1; j < group.size(); ++j) {
        seen.push_back({.kind = Arrival::Kind::level, .run = group[i], .other = group[j], .gap = band, .bias = {}});
      }
      for (const std::size_t other : next) {
        seen.push_back({.kind = Arrival::Kind::before, .run = group[i], .other = other, .gap = tie_gap, .bias = {}});
      }
    }
  }
}

OrderFit fit_order(const Arrivals& arrivals) {
  return OrderFitting(arrivals).fit();
}

OrderSpreadFit fit_order_spread(std::span<const Arrivals> batches,
                                const std::function<Eigen::MatrixXd(double factor)>& covariance_at) {
  constexpr std::array factors{0.35, 0.5, 0.7, 1.0, 1.4};
  constexpr double log_sd = 0.6;
  if (batches.empty()) {
    throw std::invalid_argument("fit_order_spread: at least one batch is needed");
  }
  OrderSpreadFit out;
  out.settled = true;
  std::vector<double> logs;
  for (const double factor : factors) {
    JointNormal z{batches.front().mean, covariance_at(factor)};
    const double off = std::log(factor) / log_sd;
    logs.push_back(-0.5 * off * off);
    for (Arrivals batch : batches) {
      batch.mean = z.mean;
      batch.covariance = z.covariance;
      OrderFit fit = fit_order(batch);
      logs.back() += fit.log_evidence;
      out.settled = out.settled && fit.settled;
      z = std::move(fit.z);
    }
    out.z.parts.push_back(std::move(z));
  }
  const double most = *std::max_element(logs.begin(), logs.end());
  double sum = 0.0;
  for (const double log : logs) {
    out.z.weights.push_back(std::exp(log - most));
    sum += out.z.weights.back();
  }
  for (double& weight : out.z.weights) {
    weight /= sum;
  }
  return out;
}

}  // namespace bagsplit::stats
