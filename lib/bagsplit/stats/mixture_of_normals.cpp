#include "bagsplit/stats/mixture_of_normals.hpp"

#include <algorithm>
#include <cmath>

#include "bagsplit/stats/detail/check.hpp"
#include "bagsplit/stats/distributions.hpp"

namespace bagsplit::stats {

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

}  // namespace bagsplit::stats
