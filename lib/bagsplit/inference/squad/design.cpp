#include "bagsplit/inference/squad/design.hpp"

#include <Eigen/Cholesky>
#include <Eigen/Core>
#include <algorithm>
#include <cmath>
#include <stdexcept>

#include "bagsplit/inference/reading/inactive_terms.hpp"

namespace bagsplit::inference {

namespace {

using Matrix = Eigen::Matrix<double, Eigen::Dynamic, Eigen::Dynamic, Eigen::RowMajor>;

}  // namespace

Linearised linearise(const Posterior& posterior, const TermMeans& term_means) {
  using Eigen::Index;
  const PlayerData& data = posterior.data();
  std::vector<std::uint32_t> order(posterior.active_terms().begin(), posterior.active_terms().end());
  const std::size_t q = order.size();
  for (std::uint32_t k = 0; k < data.terms.size(); ++k) {
    if (!posterior.is_active(k)) {
      order.push_back(k);
    }
  }
  const auto active = std::span<const std::uint32_t>(order).first(q);
  const auto rest = std::span<const std::uint32_t>(order).subspan(q);
  const InactiveTerms inactive(data, active, rest);

  // At each node log V, log tau and the terms, active ones first.
  const auto n = static_cast<Index>(2 + order.size());
  const auto nodes = static_cast<Index>(posterior.size());
  const auto at_first = static_cast<Index>(2 + q);
  Eigen::MatrixXd x(n, nodes);
  Eigen::VectorXd weights(nodes);
  Matrix within = Matrix::Zero(static_cast<Index>(q), static_cast<Index>(q));
  std::vector<double> moving(data.terms.size());
  Eigen::VectorXd surprise(static_cast<Index>(q));
  for (Index node = 0; node < nodes; ++node) {
    const auto i = static_cast<std::size_t>(node);
    const motion::Sprint& sprint = posterior.sprints()[i];
    weights(node) = posterior.weights()[i];
    x(0, node) = std::log(sprint.top_speed_mps);
    x(1, node) = std::log(sprint.time_constant_s);
    const double off_v = x(0, node) - data.log_top_speed.mean;
    const double off_tau = x(1, node) - data.log_time_constant.mean;
    for (std::size_t k = 0; k < moving.size(); ++k) {
      moving[k] = data.terms[k].mean;
    }
    if (term_means) {
      term_means(sprint, moving);
    }
    for (std::size_t a = 0; a < q; ++a) {
      const auto row = static_cast<Index>(a);
      x(2 + row, node) = posterior.term_means(i)[a];
      surprise(row) = x(2 + row, node) - moving[active[a]] - inactive.sloped(active[a], off_v, off_tau);
    }
    const Eigen::VectorXd follows = inactive.gain() * surprise;
    for (std::size_t b = 0; b < rest.size(); ++b) {
      const auto row = static_cast<Index>(b);
      x(at_first + row, node) = moving[rest[b]] + inactive.sloped(rest[b], off_v, off_tau) + follows(row);
    }
    within += weights(node) * Eigen::Map<const Matrix>(posterior.term_covariance(i).data(), static_cast<Index>(q),
                                                       static_cast<Index>(q));
  }
  const Eigen::VectorXd mean = x * weights;
  x.colwise() -= mean;
  Eigen::MatrixXd covariance = x * weights.asDiagonal() * x.transpose();
  covariance.bottomRightCorner(n - 2, n - 2) += inactive.spread(within);

  Linearised out;
  out.centre = SlowingSprints(data)(std::exp(mean(0)), std::exp(mean(1)));
  out.covariance.assign(static_cast<std::size_t>(n * n), 0.0);
  const auto place = [&](Index k) {
    return k < 2 ? k : 2 + static_cast<Index>(order[static_cast<std::size_t>(k) - 2]);
  };
  Eigen::Map<Matrix> placed(out.covariance.data(), n, n);
  for (Index a = 0; a < n; ++a) {
    for (Index b = 0; b < n; ++b) {
      placed(place(a), place(b)) = covariance(a, b);
    }
  }
  return out;
}

std::vector<double> covariance_after(const Posterior& posterior, const Linearised& now, const CandidateRun& candidate,
                                     int runs) {
  if (runs < 1) {
    throw std::invalid_argument("covariance_after: runs must be at least 1");
  }
  const PlayerData& data = posterior.data();
  const auto p = static_cast<Eigen::Index>(data.terms.size());
  const auto m = static_cast<Eigen::Index>(candidate.marks.size());
  Matrix j = Matrix::Zero(m, 2 + p);
  Eigen::VectorXd t(m);
  for (Eigen::Index r = 0; r < m; ++r) {
    const MarkData& mark = candidate.marks[static_cast<std::size_t>(r)];
    t(r) = 0.0;
    if (mark.distance_m > 0.0) {
      const motion::TimeGradient gradient =
          motion::time_gradient_from_beam(now.centre, candidate.beam_m, mark.distance_m);
      t(r) = gradient.time_s;
      j(r, 0) = gradient.by_log_top_speed_s;
      j(r, 1) = gradient.by_log_time_constant_s;
    }
    for (Eigen::Index k = 0; k < p; ++k) {
      j(r, 2 + k) = static_cast<double>((mark.terms >> k) & 1U);
    }
    if (const auto late = data.late_term(); late && mark.distance_m > 0.0) {
      j(r, 2 + static_cast<Eigen::Index>(*late)) =
          coefficient_of(data, *late, now.centre, candidate.beam_m, mark.distance_m);
    }
  }
  // The mean of `runs` such runs carries all they tell of x.
  const double n = static_cast<double>(runs);
  Matrix noise = (data.effort_cv * data.effort_cv / n + data.day_cv * data.day_cv) * t * t.transpose();
  noise.array() += candidate.extra_bias_sd_s * candidate.extra_bias_sd_s +
                   ((candidate.signal ? data.reaction_sd_s * data.reaction_sd_s : 0.0) +
                    candidate.start_sd_s * candidate.start_sd_s) /
                       n;
  for (Eigen::Index r = 0; r < m; ++r) {
    const double sd = candidate.marks[static_cast<std::size_t>(r)].sd_s;
    noise(r, r) += sd * sd / n;
  }
  const Eigen::Map<const Matrix> c(now.covariance.data(), 2 + p, 2 + p);
  const Matrix jc = j * c;
  const Matrix total = jc * j.transpose() + noise;
  const Matrix after = c - jc.transpose() * Eigen::LLT<Matrix>(total).solve(jc);
  return {after.data(), after.data() + after.size()};
}

double sd_of(std::span<const double> covariance, std::span<const double> gradient) {
  const std::size_t n = gradient.size();
  if (covariance.size() != n * n) {
    throw std::invalid_argument("sd_of: covariance must be square in the size of the gradient");
  }
  double variance = 0.0;
  for (std::size_t a = 0; a < n; ++a) {
    for (std::size_t b = 0; b < n; ++b) {
      variance += gradient[a] * covariance[a * n + b] * gradient[b];
    }
  }
  return std::sqrt(std::max(0.0, variance));
}

}  // namespace bagsplit::inference
