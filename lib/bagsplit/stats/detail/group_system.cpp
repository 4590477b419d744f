#include "bagsplit/stats/detail/group_system.hpp"

#include <Eigen/Cholesky>
#include <Eigen/QR>
#include <algorithm>
#include <cmath>

namespace bagsplit::stats::detail {

using Eigen::Index;
using Eigen::MatrixXd;
using Eigen::VectorXd;

GroupSystem::Values GroupSystem::at(double lambda, double residual_variance, bool with_spread) const {
  Values out;
  std::vector<MatrixXd> normal;
  std::vector<VectorXd> right;
  for (const SharedComponent& c : components_) {
    normal.push_back(residual_variance * c.precision);
    right.push_back(residual_variance * c.pull);
    out.rss += residual_variance * c.known_square;
  }
  for (const GroupRows& g : groups_) {
    if (g.blocks.empty()) {
      continue;  // a label that does not occur
    }
    const MatrixXd a = cross(g, lambda, &out.log_det);
    const Index k = g.rows();
    const Index m = static_cast<Index>(g.active.size());
    const Eigen::LLT<MatrixXd> own(a.topLeftCorner(k, k));
    if (own.info() != Eigen::Success) {
      out.fine = false;
      return out;
    }
    out.log_det += 2.0 * MatrixXd(own.matrixL()).diagonal().array().log().sum();
    const MatrixXd half = own.matrixL().solve(a.topRightCorner(k, m + 1));
    const MatrixXd rest = a.bottomRightCorner(m + 1, m + 1) - half.transpose() * half;
    out.rss += rest(m, m);
    for (Index i = 0; i < m; ++i) {
      const Index gi = g.active[static_cast<std::size_t>(i)];
      right[static_cast<std::size_t>(g.component)][gi] += rest(i, m);
      for (Index j = 0; j < m; ++j) {
        normal[static_cast<std::size_t>(g.component)](gi, g.active[static_cast<std::size_t>(j)]) += rest(i, j);
      }
    }
  }
  for (std::size_t c = 0; c < components_.size(); ++c) {
    const MatrixXd& basis = components_[c].basis;
    VectorXd beta = VectorXd::Zero(basis.rows());
    MatrixXd spread = MatrixXd::Zero(basis.rows(), basis.rows());
    if (basis.cols() > 0) {
      const Eigen::LLT<MatrixXd> llt(basis.transpose() * normal[c] * basis);
      if (llt.info() != Eigen::Success) {
        out.fine = false;
        return out;
      }
      out.log_det += 2.0 * MatrixXd(llt.matrixL()).diagonal().array().log().sum();
      const VectorXd r = basis.transpose() * right[c];
      beta = basis * llt.solve(r);
      out.rss -= r.dot(llt.solve(r));
      if (with_spread) {
        spread = basis * llt.solve(basis.transpose());
      }
    }
    out.beta.push_back(std::move(beta));
    out.spread.push_back(std::move(spread));
  }
  out.rss = std::max(0.0, out.rss);
  return out;
}

std::vector<GroupSystem::Contrast> GroupSystem::contrasts(double lambda, const Values& values) const {
  std::vector<Contrast> out(groups_.size() + 1);
  double own_sum = 0.0;
  double estimates = 0.0;
  std::size_t count = 0;
  std::vector<VectorXd> lean;  // of the sum on the shared coefficients
  for (const SharedComponent& c : components_) {
    lean.push_back(VectorXd::Zero(static_cast<Index>(c.columns.size())));
  }
  for (std::size_t i = 0; i < groups_.size(); ++i) {
    const GroupRows& g = groups_[i];
    const auto weights = kept_weights(g);
    if (!weights) {
      continue;
    }
    double unused = 0.0;
    const MatrixXd a = cross(g, lambda, &unused);
    const Index k = g.rows();
    const Index m = static_cast<Index>(g.active.size());
    const VectorXd d = a.topLeftCorner(k, k).llt().solve(*weights);
    const VectorXd to_shared = a.block(k, 0, m, k) * d;
    Contrast& c = out[i];
    c.exists = true;
    c.estimate = d.dot(a.col(k + m).head(k));
    const double own = weights->dot(d);
    c.variance = own;
    for (Index r = 0; r < m; ++r) {
      const Index gr = g.active[static_cast<std::size_t>(r)];
      const auto at = static_cast<std::size_t>(g.component);
      c.estimate -= to_shared[r] * values.beta[at][gr];
      lean[at][gr] += to_shared[r];
      for (Index s = 0; s < m; ++s) {
        c.variance += to_shared[r] * to_shared[s] * values.spread[at](gr, g.active[static_cast<std::size_t>(s)]);
      }
    }
    own_sum += own;
    estimates += c.estimate;
    ++count;
  }
  if (count > 0) {
    const double n = static_cast<double>(count);
    Contrast& mean = out.back();
    mean.exists = true;
    mean.estimate = estimates / n;
    mean.variance = own_sum;
    for (std::size_t c = 0; c < components_.size(); ++c) {
      mean.variance += lean[c].dot(values.spread[c] * lean[c]);
    }
    mean.variance /= n * n;
  }
  return out;
}

std::optional<SharedEstimate> GroupSystem::direction(const std::vector<SharedEntry>& row, const Values& values) const {
  SharedEstimate out{0.0, 0.0};
  for (std::size_t c = 0; c < components_.size(); ++c) {
    VectorXd v = VectorXd::Zero(static_cast<Index>(components_[c].columns.size()));
    for (const SharedEntry& entry : row) {
      const auto column = static_cast<std::size_t>(entry.column);
      if (component_of_[column] == static_cast<int>(c)) {
        if (components_[c].left_out[static_cast<std::size_t>(place_of_[column])] && entry.value != 0.0) {
          return std::nullopt;
        }
        v[place_of_[column]] += entry.value;
      }
    }
    out.estimate += v.dot(values.beta[c]);
    out.se += v.dot(values.spread[c] * v);
  }
  for (const SharedEntry& entry : row) {
    if (component_of_[static_cast<std::size_t>(entry.column)] < 0 && entry.value != 0.0) {
      return std::nullopt;
    }
  }
  return out;  // se still squared and unscaled
}

std::optional<double> GroupSystem::known_sd(const std::vector<SharedEntry>& row) const {
  double variance = 0.0;
  for (const SharedComponent& c : components_) {
    VectorXd v = VectorXd::Zero(static_cast<Index>(c.columns.size()));
    bool any = false;
    for (const SharedEntry& entry : row) {
      const auto at = std::find(c.columns.begin(), c.columns.end(), entry.column);
      if (at != c.columns.end() && entry.value != 0.0) {
        v[at - c.columns.begin()] += entry.value;
        any = true;
      }
    }
    if (any) {
      const Eigen::CompleteOrthogonalDecomposition<MatrixXd> cod(c.precision);
      const VectorXd solved = cod.solve(v);
      if ((c.precision * solved - v).norm() > 1e-6 * v.norm()) {
        return std::nullopt;
      }
      variance += v.dot(solved);
    }
  }
  return std::sqrt(std::max(0.0, variance));
}

std::vector<int> GroupSystem::confounded() const {
  std::vector<int> out;
  for (const SharedComponent& c : components_) {
    for (std::size_t j = 0; j < c.columns.size(); ++j) {
      if (c.left_out[j]) {
        out.push_back(c.columns[j]);
      }
    }
  }
  std::sort(out.begin(), out.end());
  return out;
}

MatrixXd GroupSystem::cross(const GroupRows& g, double lambda, double* log_det) {
  MatrixXd a = g.within;
  for (const GroupBlocks& b : g.blocks) {
    const double factor = 1.0 + lambda * b.rows;
    *log_det += b.count * std::log(factor);
    a += (b.rows / factor) * b.squares;
  }
  return a;
}

std::optional<VectorXd> GroupSystem::kept_weights(const GroupRows& g) const {
  VectorXd weights(g.rows());
  std::vector<bool> kept(static_cast<std::size_t>(spec_.own.cols()), false);
  for (Index j = 0; j < g.rows(); ++j) {
    weights[j] = spec_.contrast[g.own[static_cast<std::size_t>(j)]];
    kept[static_cast<std::size_t>(g.own[static_cast<std::size_t>(j)])] = true;
  }
  for (Index j = 0; j < spec_.own.cols(); ++j) {
    if (spec_.contrast[j] != 0.0 && !kept[static_cast<std::size_t>(j)]) {
      return std::nullopt;
    }
  }
  return g.rows() == 0 ? std::nullopt : std::optional(weights);
}

}  // namespace bagsplit::stats::detail
