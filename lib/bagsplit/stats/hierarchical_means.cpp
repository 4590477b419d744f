#include "bagsplit/stats/hierarchical_means.hpp"

#include <algorithm>
#include <cmath>

#include "bagsplit/stats/check.hpp"
#include "bagsplit/stats/distributions.hpp"

namespace bagsplit::stats {

namespace {

constexpr const char* who = "hierarchical_means";

// Precision-weighted mean of y at tau, its variance, and the logarithm of the marginal density of y.
struct At {
  double mu = 0.0;
  double mu_variance = 0.0;
  double log_density = 0.0;
};

At at(std::span<const double> y, std::span<const double> v, double tau2) {
  At out;
  double weight = 0.0;
  double sum = 0.0;
  for (std::size_t i = 0; i < y.size(); ++i) {
    const double w = 1.0 / (v[i] + tau2);
    weight += w;
    sum += w * (y[i] - y[0]);
    out.log_density += 0.5 * std::log(w);
  }
  out.mu = y[0] + sum / weight;
  out.mu_variance = 1.0 / weight;
  out.log_density -= 0.5 * std::log(weight);
  for (std::size_t i = 0; i < y.size(); ++i) {
    const double d = y[i] - out.mu;
    out.log_density -= 0.5 * d * d / (v[i] + tau2);
  }
  return out;
}

}  // namespace

MixtureOfNormals::MixtureOfNormals(std::span<const double> weights, std::vector<double> means, std::vector<double> sds)
    : weights_(weights.begin(), weights.end()), means_(std::move(means)), sds_(std::move(sds)) {}

double MixtureOfNormals::mean() const {
  double out = 0.0;
  for (std::size_t i = 0; i < weights_.size(); ++i) {
    out += weights_[i] * means_[i];
  }
  return out;
}

double MixtureOfNormals::sd() const {
  const double m = mean();
  double out = 0.0;
  for (std::size_t i = 0; i < weights_.size(); ++i) {
    out += weights_[i] * (sds_[i] * sds_[i] + (means_[i] - m) * (means_[i] - m));
  }
  return std::sqrt(out);
}

double MixtureOfNormals::below(double x) const {
  double out = 0.0;
  for (std::size_t i = 0; i < weights_.size(); ++i) {
    out += weights_[i] * (sds_[i] > 0.0 ? normal_cdf((x - means_[i]) / sds_[i]) : (x >= means_[i] ? 1.0 : 0.0));
  }
  return std::clamp(out, 0.0, 1.0);
}

double MixtureOfNormals::quantile(double p) const {
  check::open_unit("MixtureOfNormals::quantile", "p", p);
  const double z = normal_quantile(p);
  double lo = means_.front() + z * sds_.front();
  double hi = lo;
  for (std::size_t i = 1; i < weights_.size(); ++i) {
    lo = std::min(lo, means_[i] + z * sds_[i]);
    hi = std::max(hi, means_[i] + z * sds_[i]);
  }
  for (int i = 0; i < 200 && hi - lo > 1e-13 * (std::fabs(lo) + std::fabs(hi)); ++i) {
    const double middle = 0.5 * (lo + hi);
    (below(middle) < p ? lo : hi) = middle;
  }
  return 0.5 * (lo + hi);
}

MixtureOfNormals MixtureOfNormals::widened(double extra_sd) const {
  MixtureOfNormals out = *this;
  for (double& sd : out.sds_) {
    sd = std::hypot(sd, extra_sd);
  }
  return out;
}

std::optional<HierarchicalMeans> hierarchical_means(std::span<const double> y, std::span<const double> variances,
                                                    std::optional<double> tau_scale) {
  check::same_size(who, "y", y.size(), "variances", variances.size());
  check::all_finite(who, "y", y);
  check::all_finite(who, "variances", variances);
  for (const double v : variances) {
    check::positive(who, "a variance", v);
  }
  if (tau_scale) {
    check::positive(who, "tau_scale", *tau_scale);
  }
  if (y.empty() || (!tau_scale && y.size() < 3)) {
    return std::nullopt;
  }
  // Simpson's rule in s with tau = scale sinh-like stretch: even steps near 0, growing ones far out.
  double spread = 0.0;
  double typical = 0.0;
  for (std::size_t i = 0; i < y.size(); ++i) {
    spread = std::max(spread, std::fabs(y[i] - y[0]));
    typical += std::sqrt(variances[i]) / static_cast<double>(y.size());
  }
  const double unit = std::max(typical, 0.2 * spread);
  const double farthest = tau_scale ? std::min(6.0 * *tau_scale, 1e3 * unit) : 1e3 * unit;
  const double top = std::asinh(farthest / unit);
  constexpr int steps = 120;  // even
  std::vector<double> taus, weights;
  std::vector<At> there;
  double largest = -1e300;
  for (int i = 0; i <= steps; ++i) {
    const double s = top * i / steps;
    const double tau = unit * std::sinh(s);
    taus.push_back(tau);
    there.push_back(at(y, variances, tau * tau));
    double log_weight = there.back().log_density + std::log(std::cosh(s));
    if (tau_scale) {
      log_weight -= 0.5 * (tau / *tau_scale) * (tau / *tau_scale);
    }
    const double simpson = i == 0 || i == steps ? 1.0 : i % 2 == 1 ? 4.0 : 2.0;
    weights.push_back(log_weight + std::log(simpson));
    largest = std::max(largest, weights.back());
  }
  double total = 0.0;
  for (double& w : weights) {
    w = std::exp(w - largest);
    total += w;
  }
  HierarchicalMeans out;
  for (std::size_t j = 0; j < weights.size(); ++j) {
    weights[j] /= total;
    out.tau_mean += weights[j] * taus[j];
  }
  for (std::size_t j = 0; j < weights.size(); ++j) {
    out.tau_sd += weights[j] * (taus[j] - out.tau_mean) * (taus[j] - out.tau_mean);
  }
  out.tau_sd = std::sqrt(out.tau_sd);
  std::vector<double> means(taus.size()), sds(taus.size());
  for (std::size_t i = 0; i < y.size(); ++i) {
    for (std::size_t j = 0; j < taus.size(); ++j) {
      // theta_i given tau: shrunk by B = v / (v + tau^2) towards mu, whose own uncertainty is carried.
      const double b = variances[i] / (variances[i] + taus[j] * taus[j]);
      means[j] = b * there[j].mu + (1.0 - b) * y[i];
      sds[j] = std::sqrt((1.0 - b) * variances[i] + b * b * there[j].mu_variance);
    }
    out.theta.emplace_back(weights, means, sds);
  }
  for (std::size_t j = 0; j < taus.size(); ++j) {
    means[j] = there[j].mu;
    sds[j] = std::sqrt(there[j].mu_variance);
  }
  out.mu = MixtureOfNormals(weights, means, sds);
  for (std::size_t j = 0; j < taus.size(); ++j) {
    sds[j] = std::hypot(sds[j], taus[j]);
  }
  out.next = MixtureOfNormals(weights, means, sds);
  return out;
}

}  // namespace bagsplit::stats
