#include "bagsplit/inference/squad/detail/member_moments.hpp"

#include <Eigen/Cholesky>
#include <cmath>

namespace bagsplit::inference {

using Eigen::Index;
using Eigen::MatrixXd;
using Eigen::VectorXd;

MemberMoments moments_of(const Posterior& posterior, const Gaussian& prior, const TermMeans& means) {
  MemberMoments out;
  const PlayerData& data = posterior.data();
  const auto active = posterior.active_terms();
  for (Index a = 0; a < 2; ++a) {
    if (prior.covariance(a, a) > 0.0) {
      out.kept.push_back(a);
    }
  }
  for (std::size_t k = 0; k < active.size(); ++k) {
    const Index a = static_cast<Index>(active[k]) + 2;
    if (prior.covariance(a, a) > 0.0) {
      out.kept.push_back(a);
      out.place.push_back(k);
    }
  }
  const auto n = static_cast<Index>(out.kept.size());
  const Index sprint_part = n - static_cast<Index>(out.place.size());
  const std::size_t q = active.size();
  out.deviations.resize(n, static_cast<Index>(posterior.size()));
  out.within = MatrixXd::Zero(n, n);
  out.weights.resize(static_cast<Index>(posterior.size()));
  std::vector<double> moving(data.terms.size());
  for (std::size_t node = 0; node < posterior.size(); ++node) {
    const auto column = static_cast<Index>(node);
    const motion::Sprint& sprint = posterior.sprints()[node];
    out.weights(column) = posterior.weights()[node];
    for (Index a = 0; a < sprint_part; ++a) {
      const Index coordinate = out.kept[static_cast<std::size_t>(a)];
      out.deviations(a, column) =
          (coordinate == 0 ? std::log(sprint.top_speed_mps) : std::log(sprint.time_constant_s)) -
          prior.mean(coordinate);
    }
    for (std::size_t k = 0; k < moving.size(); ++k) {
      moving[k] = data.terms[k].mean;
    }
    if (means) {
      means(sprint, moving);
    }
    const auto node_means = posterior.term_means(node);
    const auto node_covariance = posterior.term_covariance(node);
    for (std::size_t k = 0; k < out.place.size(); ++k) {
      out.deviations(sprint_part + static_cast<Index>(k), column) =
          node_means[out.place[k]] - moving[active[out.place[k]]];
      for (std::size_t l = 0; l < out.place.size(); ++l) {
        out.within(sprint_part + static_cast<Index>(k), sprint_part + static_cast<Index>(l)) +=
            out.weights(column) * node_covariance[out.place[k] * q + out.place[l]];
      }
    }
  }
  out.shift = out.deviations * out.weights;
  out.deviations.colwise() -= out.shift;
  out.spread = out.within + out.deviations * out.weights.asDiagonal() * out.deviations.transpose();
  return out;
}

CarriedOver carry_over(const SharedLinks& links, const Gaussian& rest, const Gaussian& prior,
                       const MemberMoments& moments) {
  const auto g = static_cast<Index>(links.about.size());
  const auto n = static_cast<Index>(moments.kept.size());
  MatrixXd cross(g, n);  // covariance of shared and kept coordinates under the prior
  const MatrixXd ties = ties_of(links, rest);
  MatrixXd own(n, n);
  for (Index a = 0; a < n; ++a) {
    cross.col(a) = ties.col(moments.kept[static_cast<std::size_t>(a)]);
    for (Index b = 0; b < n; ++b) {
      own(a, b) =
          prior.covariance(moments.kept[static_cast<std::size_t>(a)], moments.kept[static_cast<std::size_t>(b)]);
    }
  }
  CarriedOver out;
  out.gain = own.ldlt().solve(cross.transpose()).transpose();
  out.mean = rest.mean + out.gain * moments.shift;
  const MatrixXd covariance = rest.covariance + out.gain * (moments.spread - own) * out.gain.transpose();
  out.covariance = 0.5 * (covariance + covariance.transpose());
  return out;
}

}  // namespace bagsplit::inference
