#include "bagsplit/jobs/standings/detail/standings_draws.hpp"

#include <Eigen/Cholesky>
#include <Eigen/Eigenvalues>
#include <algorithm>
#include <cmath>

#include "bagsplit/jobs/profile/merge_estimates.hpp"
#include "bagsplit/stats/random.hpp"

namespace bagsplit::jobs::detail {

namespace {

using Eigen::Index;
using Eigen::MatrixXd;
using Eigen::VectorXd;

// How often each point of the design is drawn: cumulative counts, the last one all draws.
std::vector<std::size_t> shares_of(const inference::SquadFit& fit, std::size_t draws) {
  std::vector<std::size_t> out;
  double sum = 0.0;
  for (const inference::SquadPoint& point : fit.points) {
    sum += point.weight;
    out.push_back(static_cast<std::size_t>(std::lround(std::min(1.0, sum) * static_cast<double>(draws))));
  }
  out.back() = draws;
  return out;
}

// Normal scores of a player's parts: from the scores of what is shared, and the own part.
struct Scores {
  MatrixXd from_shared;  // parts x shared
  MatrixXd own;          // parts x parts
};

Scores scores_of(const PointBelief& belief, const MatrixXd& shared_root) {
  const Index k = belief.own.rows();
  MatrixXd root(static_cast<Index>(belief.about.size()), shared_root.cols());
  for (std::size_t a = 0; a < belief.about.size(); ++a) {
    root.row(static_cast<Index>(a)) = shared_root.row(static_cast<Index>(belief.about[a]));
  }
  const VectorXd scale = belief.own.diagonal().cwiseMax(1e-300).cwiseSqrt().cwiseInverse();
  Scores out;
  out.from_shared = scale.asDiagonal() * (belief.on_shared * root);
  const MatrixXd all = scale.asDiagonal() * belief.own * scale.asDiagonal();
  const Eigen::SelfAdjointEigenSolver<MatrixXd> rest(all - out.from_shared * out.from_shared.transpose());
  out.own = rest.eigenvectors() * rest.eigenvalues().cwiseMax(0.0).cwiseSqrt().asDiagonal();
  // Where the squad's fit says more of what is shared than the player's own runs leave room for, to unit variance
  // again.
  for (Index i = 0; i < k; ++i) {
    const double norm = std::sqrt(out.from_shared.row(i).squaredNorm() + out.own.row(i).squaredNorm());
    out.from_shared.row(i) /= norm;
    out.own.row(i) /= norm;
  }
  return out;
}

}  // namespace

std::vector<double> joint_draws(const inference::SquadFit& fit, std::span<const Belief* const> beliefs,
                                std::size_t parts, std::size_t draws, std::uint64_t seed, unsigned threads) {
  const auto g = static_cast<Index>(fit.shared_prior.size());
  const std::vector<std::size_t> ends = shares_of(fit, draws);
  MatrixXd shared(g, static_cast<Index>(draws));
  stats::RandomStream random(seed);
  for (Index d = 0; d < shared.cols(); ++d) {
    for (Index i = 0; i < g; ++i) {
      shared(i, d) = random.normal();
    }
  }
  std::vector<MatrixXd> roots;
  for (const inference::SquadPoint& point : fit.points) {
    roots.push_back(point.covariance.llt().matrixL());
  }
  std::vector<double> out(beliefs.size() * parts * draws);
  stats::for_each_index(beliefs.size(), threads, [&](std::size_t i) {
    stats::RandomStream own(seed, i + 1);
    VectorXd normal(static_cast<Index>(parts));
    std::size_t d = 0;
    for (std::size_t p = 0; p < ends.size(); ++p) {
      const PointBelief& belief = beliefs[i]->points[p];
      const Scores scores = scores_of(belief, roots[p]);
      std::vector<QuantileCurve> curves;
      for (const inference::Estimate& part : belief.parts) {
        curves.emplace_back(part, draw_level);
      }
      for (; d < ends[p]; ++d) {
        for (Index k = 0; k < normal.size(); ++k) {
          normal(k) = own.normal();
        }
        for (std::size_t k = 0; k < parts; ++k) {
          const auto row = static_cast<Index>(k);
          const double z =
              scores.from_shared.row(row).dot(shared.col(static_cast<Index>(d))) + scores.own.row(row).dot(normal);
          out[(i * parts + k) * draws + d] = curves[k].value_at(z);
        }
      }
    }
  });
  return out;
}

}  // namespace bagsplit::jobs::detail
