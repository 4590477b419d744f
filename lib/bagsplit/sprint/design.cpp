#include "bagsplit/sprint/design.hpp"

#include <Eigen/Cholesky>
#include <Eigen/Core>
#include <algorithm>
#include <cmath>
#include <stdexcept>

namespace bagsplit::sprint {

namespace {

using Matrix = Eigen::Matrix<double, Eigen::Dynamic, Eigen::Dynamic, Eigen::RowMajor>;

}  // namespace

Linearised linearise(const Posterior& posterior) {
  const std::size_t p = posterior.data().terms.size();
  const std::size_t n = 2 + p;
  const auto active = posterior.active_terms();
  const std::size_t q = active.size();
  Linearised out;
  out.covariance.assign(n * n, 0.0);
  std::vector<double> mean(2 + q, 0.0);
  const auto value = [&](std::size_t node, std::size_t k) {
    return k == 0   ? std::log(posterior.sprints()[node].top_speed_mps)
           : k == 1 ? std::log(posterior.sprints()[node].time_constant_s)
                    : posterior.term_means(node)[k - 2];
  };
  for (std::size_t i = 0; i < posterior.size(); ++i) {
    for (std::size_t k = 0; k < 2 + q; ++k) {
      mean[k] += posterior.weights()[i] * value(i, k);
    }
  }
  const auto place = [&](std::size_t k) { return k < 2 ? k : 2 + static_cast<std::size_t>(active[k - 2]); };
  std::vector<double> deviation(2 + q);
  for (std::size_t i = 0; i < posterior.size(); ++i) {
    const double w = posterior.weights()[i];
    for (std::size_t k = 0; k < 2 + q; ++k) {
      deviation[k] = value(i, k) - mean[k];
    }
    const auto conditional = posterior.term_covariance(i);
    for (std::size_t a = 0; a < 2 + q; ++a) {
      for (std::size_t b = 0; b < 2 + q; ++b) {
        double c = deviation[a] * deviation[b];
        if (a >= 2 && b >= 2) {
          c += conditional[(a - 2) * q + (b - 2)];
        }
        out.covariance[place(a) * n + place(b)] += w * c;
      }
    }
  }
  for (std::uint32_t k = 0; k < p; ++k) {
    if (!posterior.is_active(k)) {
      const double sd = posterior.data().terms[k].sd;
      out.covariance[(2 + k) * n + 2 + k] = sd * sd;
    }
  }
  out.centre = {std::exp(mean[0]), std::exp(mean[1])};
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
      const TimeGradient gradient = time_gradient_from_beam(now.centre, candidate.beam_m, mark.distance_m);
      t(r) = gradient.time_s;
      j(r, 0) = gradient.by_log_top_speed_s;
      j(r, 1) = gradient.by_log_time_constant_s;
    }
    for (Eigen::Index k = 0; k < p; ++k) {
      j(r, 2 + k) = static_cast<double>((mark.terms >> k) & 1U);
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

}  // namespace bagsplit::sprint
