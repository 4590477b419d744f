#include "bagsplit/stats/hierarchical_means.hpp"

#include <algorithm>
#include <cmath>

#include "bagsplit/stats/detail/check.hpp"
#include "bagsplit/stats/detail/elementary.hpp"
#include "bagsplit/stats/distributions.hpp"

namespace bagsplit::stats {

namespace {

constexpr const char* job_name = "hierarchical_means";

// Precision-weighted mean of y at tau, its variance, and the logarithm of the marginal density of y.
struct GivenTau {
  double mu = 0.0;
  double mu_variance = 0.0;
  double log_density = 0.0;
};

GivenTau given_tau(std::span<const double> y, std::span<const double> v, double tau2) {
  GivenTau out;
  double weight = 0.0;
  double sum = 0.0;
  for (std::size_t i = 0; i < y.size(); ++i) {
    const double w = 1.0 / (v[i] + tau2);
    weight += w;
    sum += w * (y[i] - y[0]);
    out.log_density -= 0.5 * std::log(v[i] + tau2);
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
  // Newton's steps, halving where they leave the bracket.
  const double enough = 1e-10 * sd();
  double x = std::clamp(mean() + z * sd(), lo, hi);
  for (int i = 0; i < 200 && hi - lo > enough; ++i) {
    const double miss = below(x) - p;
    (miss < 0.0 ? lo : hi) = x;
    double density = 0.0;
    for (std::size_t j = 0; j < weights_.size(); ++j) {
      const double u = sds_[j] > 0.0 ? (x - means_[j]) / sds_[j] : 100.0;
      density += sds_[j] > 0.0 ? weights_[j] * 0.3989422804014327 * std::exp(-0.5 * u * u) / sds_[j] : 0.0;
    }
    const double next = density > 0.0 ? x - miss / density : lo;
    const double step = std::fabs(next - x);
    const bool inside = next > lo && next < hi;
    x = inside ? next : 0.5 * (lo + hi);
    if (inside && step < 0.1 * enough) {
      break;
    }
  }
  return x;
}

MixtureOfNormals MixtureOfNormals::widened(double extra_sd) const {
  MixtureOfNormals out = *this;
  for (double& sd : out.sds_) {
    sd = std::hypot(sd, extra_sd);
  }
  return out;
}

std::optional<HierarchicalMeans> hierarchical_means(std::span<const double> y, std::span<const double> variances,
                                                    std::optional<double> tau_scale,
                                                    std::optional<double> variance_df) {
  check::same_size(job_name, "y", y.size(), "variances", variances.size());
  check::all_finite(job_name, "y", y);
  check::all_finite(job_name, "variances", variances);
  for (const double v : variances) {
    check::positive(job_name, "a variance", v);
  }
  if (tau_scale) {
    check::positive(job_name, "tau_scale", *tau_scale);
  }
  if (variance_df) {
    check::positive(job_name, "variance_df", *variance_df);
  }
  if (y.empty() || (!tau_scale && y.size() < 3)) {
    return std::nullopt;
  }
  double spread = 0.0;
  double typical = 0.0;
  for (std::size_t i = 0; i < y.size(); ++i) {
    spread = std::max(spread, std::fabs(y[i] - y[0]));
    typical += std::sqrt(variances[i]) / static_cast<double>(y.size());
  }
  // Equally likely scales of the variances, the middle of each slice.
  std::vector<double> scales{1.0};
  if (variance_df) {
    constexpr int slices = 9;
    scales.clear();
    for (int i = 0; i < slices; ++i) {
      scales.push_back(*variance_df / chi_square_quantile((i + 0.5) / slices, *variance_df));
    }
  }
  // Simpson's rule in s, tau = unit sinh(s): even steps near 0, growing ones far out.
  const double unit = std::max(typical, 0.2 * spread);
  const double farthest = tau_scale ? 6.0 * *tau_scale : 1e3 * unit;
  const double top = std::asinh(farthest / unit);
  const int steps = variance_df ? 40 : 120;  // even; beside the slices of the scale fewer suffice
  struct Node {
    double scale, tau, weight;
    GivenTau at;
  };
  std::vector<Node> nodes;
  std::vector<double> scaled(variances.size());
  double largest = -1e300;
  for (const double scale : scales) {
    for (std::size_t i = 0; i < scaled.size(); ++i) {
      scaled[i] = scale * variances[i];
    }
    for (int i = 0; i <= steps; ++i) {
      const double s = top * i / steps;
      Node node{scale, unit * std::sinh(s), 0.0, {}};
      node.at = given_tau(y, scaled, node.tau * node.tau);
      const double simpson = i == 0 || i == steps ? 1.0 : i % 2 == 1 ? 4.0 : 2.0;
      node.weight = node.at.log_density + std::log(std::cosh(s)) + std::log(simpson);
      if (tau_scale) {
        node.weight -= 0.5 * (node.tau / *tau_scale) * (node.tau / *tau_scale);
      }
      largest = std::max(largest, node.weight);
      nodes.push_back(node);
    }
  }
  double total = 0.0;
  for (Node& node : nodes) {
    node.weight = std::exp(node.weight - largest);
    total += node.weight;
  }
  std::erase_if(nodes, [&](const Node& node) { return node.weight < 1e-10 * total; });
  HierarchicalMeans out;
  std::vector<double> weights;
  double mean = 0.0;
  for (const Node& node : nodes) {
    weights.push_back(node.weight / total);
    mean += weights.back() * node.tau;
  }
  double squares = 0.0;
  for (std::size_t j = 0; j < nodes.size(); ++j) {
    squares += weights[j] * square(nodes[j].tau - mean);
  }
  // With a flat prior the posterior falls as tau^(1 - k): its moments exist from a few means on.
  if (tau_scale || y.size() >= 4) {
    out.tau_mean = mean;
  }
  if (tau_scale || y.size() >= 5) {
    out.tau_sd = std::sqrt(squares);
  }
  std::vector<double> means(nodes.size()), sds(nodes.size());
  for (std::size_t i = 0; i < y.size(); ++i) {
    for (std::size_t j = 0; j < nodes.size(); ++j) {
      // theta_i given tau: shrunk by B = v / (v + tau^2) towards mu, whose own uncertainty is carried.
      const double v = nodes[j].scale * variances[i];
      const double b = v / (v + nodes[j].tau * nodes[j].tau);
      means[j] = b * nodes[j].at.mu + (1.0 - b) * y[i];
      sds[j] = std::sqrt((1.0 - b) * v + b * b * nodes[j].at.mu_variance);
    }
    out.theta.emplace_back(weights, means, sds);
  }
  for (std::size_t j = 0; j < nodes.size(); ++j) {
    means[j] = nodes[j].at.mu;
    sds[j] = std::sqrt(nodes[j].at.mu_variance);
  }
  out.mu = MixtureOfNormals(weights, means, sds);
  for (std::size_t j = 0; j < nodes.size(); ++j) {
    sds[j] = std::hypot(sds[j], nodes[j].tau);
  }
  out.next = MixtureOfNormals(weights, means, sds);
  return out;
}

}  // namespace bagsplit::stats
