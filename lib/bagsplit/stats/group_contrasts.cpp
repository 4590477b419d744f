#include "bagsplit/stats/group_contrasts.hpp"

#include <Eigen/Cholesky>
#include <Eigen/Eigenvalues>
#include <Eigen/QR>
#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <map>
#include <numeric>
#include <span>
#include <tuple>

#include "bagsplit/stats/check.hpp"

namespace bagsplit::stats {

namespace {

using Eigen::Index;
using Eigen::MatrixXd;
using Eigen::VectorXd;

constexpr const char* who = "fit_group_contrasts";
constexpr double nothing = 1e-9;  // relative size below which a column is a combination of others

// Columns of a group, in this order: own columns that are independent, active shared columns, response.
struct BlockMean {
  double n;
  VectorXd mean;
};
struct Group {
  std::vector<Index> own;   // kept own columns
  std::vector<int> active;  // shared columns, as indices within the component
  int component = -1;
  MatrixXd within;  // cross-products about the block means
  std::vector<BlockMean> blocks;
  Index rows() const { return static_cast<Index>(own.size()); }
};

// Shared columns that groups or knowledge connect.
struct Component {
  std::vector<int> columns;  // of the spec
  std::vector<bool> left_out;
  MatrixXd basis;       // beta = basis gamma: what is free once the balance holds
  MatrixXd precision;   // of the knowledge, times 1 (1 / unit^2)
  VectorXd pull;        // precision times the known values
  double spread = 0.0;  // weighted sum of squares of the knowledge about its own best fit
  std::size_t known_rank = 0;
};

class System {
 public:
  System(const GroupContrastSpec& spec) : spec_(spec) {
    origin_ =
        std::accumulate(spec.response.begin(), spec.response.end(), 0.0) / static_cast<double>(spec.response.size());
    connect();
    gather();
    find_bases();
    count();
  }

  struct Values {
    bool fine = true;
    double log_det = 0.0;
    double rss = 0.0;
    std::vector<MatrixXd> spread;  // a component: unscaled covariance of beta
    std::vector<VectorXd> beta;
  };

  // At lambda, with the knowledge scaled by the residual variance.
  Values at(double lambda, double residual_variance, bool with_spread) const {
    Values out;
    std::vector<MatrixXd> normal;
    std::vector<VectorXd> right;
    for (const Component& c : components_) {
      normal.push_back(residual_variance * c.precision);
      right.push_back(residual_variance * c.pull);
      out.rss += residual_variance * known_square(c);
    }
    for (const Group& g : groups_) {
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

  // Contrast of a group: estimate and unscaled variance; the last element is the mean of all.
  struct Contrast {
    bool exists = false;
    double estimate = 0.0;
    double variance = 0.0;
  };
  std::vector<Contrast> contrasts(double lambda, const Values& values) const {
    std::vector<Contrast> out(groups_.size() + 1);
    double own_sum = 0.0;
    double estimates = 0.0;
    std::size_t count = 0;
    std::vector<VectorXd> lean;  // of the sum on the shared coefficients
    for (const Component& c : components_) {
      lean.push_back(VectorXd::Zero(static_cast<Index>(c.columns.size())));
    }
    for (std::size_t i = 0; i < groups_.size(); ++i) {
      const Group& g = groups_[i];
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

  std::optional<SharedEstimate> direction(const std::vector<SharedEntry>& row, const Values& values) const {
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

  // SD of a direction from the knowledge alone.
  std::optional<double> known_sd(const std::vector<SharedEntry>& row) const {
    double variance = 0.0;
    for (const Component& c : components_) {
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

  std::vector<int> confounded() const {
    std::vector<int> out;
    for (const Component& c : components_) {
      for (std::size_t j = 0; j < c.columns.size(); ++j) {
        if (c.left_out[j]) {
          out.push_back(c.columns[j]);
        }
      }
    }
    std::sort(out.begin(), out.end());
    return out;
  }

  double degrees() const { return degrees_; }
  std::size_t within() const { return within_; }
  std::size_t between() const { return between_; }
  bool has_knowledge() const { return !spec_.knowledge.empty(); }

 private:
  double known_square(const Component& c) const {
    // beta0' P beta0 of the best beta0, so that the quadratic form is (beta - beta0)' P (beta - beta0).
    const Eigen::CompleteOrthogonalDecomposition<MatrixXd> cod(c.precision);
    return c.known_rank == 0 ? 0.0 : c.pull.dot(cod.solve(c.pull));
  }

  static MatrixXd cross(const Group& g, double lambda, double* log_det) {
    MatrixXd a = g.within;
    for (const BlockMean& b : g.blocks) {
      const double factor = 1.0 + lambda * b.n;
      *log_det += std::log(factor);
      a.noalias() += (b.n / factor) * b.mean * b.mean.transpose();
    }
    return a;
  }

  std::optional<VectorXd> kept_weights(const Group& g) const {
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

  int root(int column) {
    while (parent_[static_cast<std::size_t>(column)] != column) {
      column = parent_[static_cast<std::size_t>(column)] =
          parent_[static_cast<std::size_t>(parent_[static_cast<std::size_t>(column)])];
    }
    return column;
  }

  void connect() {
    const auto p = static_cast<std::size_t>(spec_.shared_columns);
    parent_.resize(p);
    std::iota(parent_.begin(), parent_.end(), 0);
    std::vector<bool> used(p, false);
    std::vector<int> first_of_group(
        1 + static_cast<std::size_t>(*std::max_element(spec_.group.begin(), spec_.group.end())), -1);
    const auto join = [&](int a, int b) { parent_[static_cast<std::size_t>(root(a))] = root(b); };
    for (std::size_t i = 0; i < spec_.shared.size(); ++i) {
      for (const SharedEntry& entry : spec_.shared[i]) {
        if (entry.value == 0.0) {
          continue;
        }
        used[static_cast<std::size_t>(entry.column)] = true;
        int& first = first_of_group[static_cast<std::size_t>(spec_.group[i])];
        first >= 0 ? join(first, entry.column) : void(first = entry.column);
      }
    }
    for (const SharedKnowledge& known : spec_.knowledge) {
      for (const SharedEntry& entry : known.row) {
        join(known.row.front().column, entry.column);
      }
    }
    component_of_.assign(p, -1);
    place_of_.assign(p, -1);
    std::map<int, int> numbers;
    for (std::size_t j = 0; j < p; ++j) {
      if (!used[j]) {
        continue;
      }
      const auto [at, fresh] = numbers.emplace(root(static_cast<int>(j)), static_cast<int>(components_.size()));
      if (fresh) {
        components_.emplace_back();
      }
      Component& c = components_[static_cast<std::size_t>(at->second)];
      component_of_[j] = at->second;
      place_of_[j] = static_cast<int>(c.columns.size());
      c.columns.push_back(static_cast<int>(j));
    }
    for (Component& c : components_) {
      const auto m = static_cast<Index>(c.columns.size());
      c.left_out.assign(c.columns.size(), false);
      c.precision = MatrixXd::Zero(m, m);
      c.pull = VectorXd::Zero(m);
    }
    for (const SharedKnowledge& known : spec_.knowledge) {
      const double weight = 1.0 / (known.sd * known.sd);
      for (const SharedEntry& a : known.row) {
        const int c = component_of_[static_cast<std::size_t>(a.column)];
        if (c < 0) {
          continue;  // a column that no row uses
        }
        Component& component = components_[static_cast<std::size_t>(c)];
        const Index i = place_of_[static_cast<std::size_t>(a.column)];
        component.pull[i] += weight * a.value * known.value;
        for (const SharedEntry& b : known.row) {
          if (component_of_[static_cast<std::size_t>(b.column)] == c) {
            component.precision(i, place_of_[static_cast<std::size_t>(b.column)]) += weight * a.value * b.value;
          }
        }
      }
    }
    for (Component& c : components_) {
      const Eigen::CompleteOrthogonalDecomposition<MatrixXd> cod(c.precision);
      c.known_rank = c.precision.isZero(0.0) ? 0 : static_cast<std::size_t>(cod.rank());
    }
  }

  void gather() {
    const std::size_t n = spec_.response.size();
    std::vector<std::size_t> order(n);
    std::iota(order.begin(), order.end(), std::size_t{0});
    std::sort(order.begin(), order.end(), [&](std::size_t a, std::size_t b) {
      return std::tuple(spec_.group[a], spec_.block[a], a) < std::tuple(spec_.group[b], spec_.block[b], b);
    });
    groups_.resize(1 + static_cast<std::size_t>(*std::max_element(spec_.group.begin(), spec_.group.end())));
    std::vector<bool> block_seen;
    for (std::size_t from = 0; from < n;) {
      const int label = spec_.group[order[from]];
      std::size_t to = from;
      while (to < n && spec_.group[order[to]] == label) {
        ++to;
      }
      gather_group(groups_[static_cast<std::size_t>(label)], std::span(order).subspan(from, to - from), block_seen);
      from = to;
    }
  }

  void gather_group(Group& g, std::span<const std::size_t> rows, std::vector<bool>& block_seen) {
    std::map<int, Index> place;  // shared column -> place among the active ones
    if (!spec_.shared.empty()) {
      for (const std::size_t i : rows) {
        for (const SharedEntry& entry : spec_.shared[i]) {
          if (entry.value != 0.0) {
            place.emplace(entry.column, 0);
          }
        }
      }
    }
    for (auto& [column, at] : place) {
      at = static_cast<Index>(g.active.size());
      g.active.push_back(place_of_[static_cast<std::size_t>(column)]);
      g.component = component_of_[static_cast<std::size_t>(column)];
    }
    const Index k = spec_.own.cols();
    const Index m = static_cast<Index>(place.size());
    MatrixXd t = MatrixXd::Zero(static_cast<Index>(rows.size()), k + m + 1);
    for (std::size_t r = 0; r < rows.size(); ++r) {
      const auto row = static_cast<Index>(r);
      t.row(row).head(k) = spec_.own.row(static_cast<Index>(rows[r]));
      if (!spec_.shared.empty()) {
        for (const SharedEntry& entry : spec_.shared[rows[r]]) {
          if (entry.value != 0.0) {
            t(row, k + place.at(entry.column)) += entry.value;
          }
        }
      }
      t(row, k + m) = spec_.response[rows[r]] - origin_;
    }
    // Own columns that are not combinations of those before them.
    MatrixXd kept(t.rows(), 0);
    for (Index j = 0; j < k; ++j) {
      VectorXd rest = t.col(j);
      if (kept.cols() > 0) {
        rest -= kept * (kept.transpose() * rest);
        rest -= kept * (kept.transpose() * rest);
      }
      if (rest.norm() > 1e-7 * t.col(j).norm()) {
        g.own.push_back(j);
        kept.conservativeResize(Eigen::NoChange, kept.cols() + 1);
        kept.col(kept.cols() - 1) = rest.normalized();
      }
    }
    MatrixXd used(t.rows(), g.rows() + m + 1);
    for (Index j = 0; j < g.rows(); ++j) {
      used.col(j) = t.col(g.own[static_cast<std::size_t>(j)]);
    }
    used.rightCols(m + 1) = t.rightCols(m + 1);
    g.within = MatrixXd::Zero(used.cols(), used.cols());
    for (std::size_t from = 0; from < rows.size();) {
      std::size_t to = from;
      const int block = spec_.block[rows[from]];
      while (to < rows.size() && spec_.block[rows[to]] == block) {
        ++to;
      }
      if (block_seen.size() <= static_cast<std::size_t>(block)) {
        block_seen.resize(static_cast<std::size_t>(block) + 1, false);
      }
      if (block_seen[static_cast<std::size_t>(block)]) {
        check::fail_call(who, "a block lies in two groups");
      }
      block_seen[static_cast<std::size_t>(block)] = true;
      const auto part = used.middleRows(static_cast<Index>(from), static_cast<Index>(to - from));
      const VectorXd mean = part.colwise().mean();
      const MatrixXd about = part.rowwise() - mean.transpose();
      g.within.noalias() += about.transpose() * about;
      g.blocks.push_back({static_cast<double>(to - from), mean});
      from = to;
    }
    rows_ += rows.size();
    blocks_ += g.blocks.size();
    own_rank_ += g.own.size();
  }

  // Normal equations of the shared columns with the own ones eliminated, at lambda = 0.
  MatrixXd normal_of(std::size_t component) const {
    const auto m = static_cast<Index>(components_[component].columns.size());
    MatrixXd out = MatrixXd::Zero(m, m);
    for (const Group& g : groups_) {
      if (g.component != static_cast<int>(component)) {
        continue;
      }
      double unused = 0.0;
      const MatrixXd a = cross(g, 0.0, &unused);
      const Index k = g.rows();
      const Index active = static_cast<Index>(g.active.size());
      const MatrixXd rest = a.block(k, k, active, active) -
                            a.block(k, 0, active, k) * a.topLeftCorner(k, k).llt().solve(a.block(0, k, k, active));
      for (Index i = 0; i < active; ++i) {
        for (Index j = 0; j < active; ++j) {
          out(g.active[static_cast<std::size_t>(i)], g.active[static_cast<std::size_t>(j)]) += rest(i, j);
        }
      }
    }
    return out;
  }

  VectorXd sizes_of(std::size_t component) const {
    VectorXd out = VectorXd::Zero(static_cast<Index>(components_[component].columns.size()));
    for (const Group& g : groups_) {
      if (g.component == static_cast<int>(component)) {
        double unused = 0.0;
        const MatrixXd a = cross(g, 0.0, &unused);
        for (std::size_t i = 0; i < g.active.size(); ++i) {
          const Index at = g.rows() + static_cast<Index>(i);
          out[g.active[i]] += a(at, at);
        }
      }
    }
    return out;
  }

  void find_bases() {
    for (std::size_t c = 0; c < components_.size(); ++c) {
      Component& component = components_[c];
      const MatrixXd normal = normal_of(c);
      const VectorXd scale = sizes_of(c).cwiseSqrt().cwiseMax(1e-300);
      const double precision_scale = std::max(1e-300, component.precision.diagonal().maxCoeff());
      const auto m = static_cast<Index>(component.columns.size());
      for (int round = 0; round < 3; ++round) {
        std::vector<Index> kept;
        for (Index j = 0; j < m; ++j) {
          if (!component.left_out[static_cast<std::size_t>(j)]) {
            kept.push_back(j);
          }
        }
        const auto q = static_cast<Index>(kept.size());
        MatrixXd s(q, q);
        for (Index i = 0; i < q; ++i) {
          for (Index j = 0; j < q; ++j) {
            const Index a = kept[static_cast<std::size_t>(i)];
            const Index b = kept[static_cast<std::size_t>(j)];
            s(i, j) = normal(a, b) / (scale[a] * scale[b]) + component.precision(a, b) / precision_scale;
          }
        }
        const Eigen::SelfAdjointEigenSolver<MatrixXd> eigen(s);
        Index nullity = 0;
        while (nullity < q && eigen.eigenvalues()[nullity] < nothing) {
          ++nullity;
        }
        MatrixXd null = eigen.eigenvectors().leftCols(nullity);
        for (Index i = 0; i < q; ++i) {
          const Index at = kept[static_cast<std::size_t>(i)];
          null.row(i) /= scale[at];
        }
        MatrixXd balanced = null;
        for (Index i = 0; i < q; ++i) {
          if (component.columns[static_cast<std::size_t>(kept[static_cast<std::size_t>(i)])] >= spec_.balanced) {
            balanced.row(i).setZero();
          }
        }
        for (Index j = 0; j < nullity; ++j) {  // comparable lengths
          const double length = null.col(j).norm();
          balanced.col(j) /= length;
          null.col(j) /= length;
        }
        Index rank = 0;
        MatrixXd free = MatrixXd::Zero(nullity, 0);
        if (nullity > 0) {
          Eigen::ColPivHouseholderQR<MatrixXd> qr(balanced.transpose());  // rows of balanced: nullity x q
          qr.setThreshold(1e-7);
          rank = qr.rank();
          const MatrixXd full = qr.householderQ() * MatrixXd::Identity(nullity, nullity);
          free = null * full.rightCols(nullity - rank);  // null vectors without any balanced part
        }
        if (rank == nullity) {
          Eigen::HouseholderQR<MatrixXd> qr(balanced);
          MatrixXd full = MatrixXd::Identity(q, q);
          if (nullity > 0) {
            full = qr.householderQ() * full;
          }
          component.basis = MatrixXd::Zero(m, q - nullity);
          for (Index i = 0; i < q; ++i) {
            component.basis.row(kept[static_cast<std::size_t>(i)]) = full.row(i).tail(q - nullity);
          }
          rank_ += static_cast<std::size_t>(q - nullity);
          break;
        }
        // As many columns must go as there are such vectors: the later ones first.
        MatrixXd chosen(0, free.cols());
        for (Index i = q - 1; i >= 0 && chosen.rows() < free.cols(); --i) {
          VectorXd row = free.row(i).transpose();
          if (row.norm() < 1e-7) {
            continue;
          }
          const double before = row.norm();
          for (int twice = 0; twice < 2 && chosen.rows() > 0; ++twice) {
            row -= chosen.transpose() * (chosen * row);
          }
          if (row.norm() > 1e-6 * before) {
            chosen.conservativeResize(chosen.rows() + 1, Eigen::NoChange);
            chosen.row(chosen.rows() - 1) = row.normalized().transpose();
            component.left_out[static_cast<std::size_t>(kept[static_cast<std::size_t>(i)])] = true;
          }
        }
      }
    }
  }

  void count() {
    std::size_t known = 0;
    for (const Component& c : components_) {
      known += c.known_rank;
    }
    const double n = static_cast<double>(rows_ + known);
    degrees_ = n - static_cast<double>(own_rank_ + rank_);
    // Within blocks: what the shared columns explain there.
    std::size_t inside = 0;
    for (std::size_t c = 0; c < components_.size(); ++c) {
      const auto m = static_cast<Index>(components_[c].columns.size());
      MatrixXd w = MatrixXd::Zero(m, m);
      for (const Group& g : groups_) {
        if (g.component == static_cast<int>(c)) {
          for (std::size_t i = 0; i < g.active.size(); ++i) {
            for (std::size_t j = 0; j < g.active.size(); ++j) {
              w(g.active[i], g.active[j]) +=
                  g.within(g.rows() + static_cast<Index>(i), g.rows() + static_cast<Index>(j));
            }
          }
        }
      }
      const VectorXd scale = sizes_of(c).cwiseSqrt().cwiseMax(1e-300);
      w = scale.cwiseInverse().asDiagonal() * w * scale.cwiseInverse().asDiagonal();
      if (m > 0) {
        const Eigen::SelfAdjointEigenSolver<MatrixXd> eigen(w, Eigen::EigenvaluesOnly);
        inside += static_cast<std::size_t>((eigen.eigenvalues().array() > nothing).count());
      }
    }
    // An own column may vary within a block, too, but does not in the uses this is made for; it would count as between.
    const std::size_t least = blocks_ + inside;
    within_ = rows_ > least ? rows_ - least : 0;
    const double rest = degrees_ - static_cast<double>(within_);
    between_ = rest > 0.0 ? static_cast<std::size_t>(rest + 0.5) : 0;
  }

  const GroupContrastSpec& spec_;
  double origin_ = 0.0;
  std::vector<int> parent_, component_of_, place_of_;
  std::vector<Component> components_;
  std::vector<Group> groups_;
  std::size_t rows_ = 0, blocks_ = 0, own_rank_ = 0, rank_ = 0, within_ = 0, between_ = 0;
  double degrees_ = 0.0;
};

void check_spec(const GroupContrastSpec& spec, const GroupContrastOptions& options) {
  const std::size_t n = spec.response.size();
  check::same_size(who, "response", n, "group", spec.group.size());
  check::same_size(who, "response", n, "block", spec.block.size());
  check::same_size(who, "response", n, "rows of own", static_cast<std::size_t>(spec.own.rows()));
  check::same_size(who, "contrast", static_cast<std::size_t>(spec.contrast.size()), "columns of own",
                   static_cast<std::size_t>(spec.own.cols()));
  if (!spec.shared.empty()) {
    check::same_size(who, "response", n, "rows of shared", spec.shared.size());
  }
  check::all_finite(who, "response", spec.response);
  check::all_finite(who, "own", std::span(spec.own.data(), static_cast<std::size_t>(spec.own.size())));
  for (std::size_t i = 0; i < n; ++i) {
    if (spec.group[i] < 0 || spec.block[i] < 0) {
      check::fail(who, "a label", spec.group[i] < 0 ? spec.group[i] : spec.block[i], "at least 0");
    }
  }
  const auto entries = [&](const std::vector<SharedEntry>& row) {
    for (const SharedEntry& entry : row) {
      if (entry.column < 0 || entry.column >= spec.shared_columns) {
        check::fail(who, "a shared column", entry.column, "from 0 to shared_columns - 1");
      }
      check::finite(who, "a shared value", entry.value);
    }
  };
  for (const auto& row : spec.shared) {
    entries(row);
  }
  for (const auto& row : spec.directions) {
    entries(row);
  }
  for (const SharedKnowledge& known : spec.knowledge) {
    entries(known.row);
    check::finite(who, "knowledge.value", known.value);
    check::positive(who, "knowledge.sd", known.sd);
  }
  check::open_unit(who, "level", options.level);
}

// The best lambda for a residual variance that scales the knowledge.
double best_lambda(const System& all, double scale, double degrees) {
  const auto criterion = [&](double lambda) {
    const auto v = all.at(lambda, scale, false);
    return v.fine && v.rss > 0.0 ? v.log_det + degrees * std::log(v.rss) : std::numeric_limits<double>::infinity();
  };
  constexpr double lowest = -11.0;  // of log lambda
  constexpr double highest = 11.0;
  constexpr int points = 22;
  double best = 0.0;
  double best_value = criterion(0.0);
  int at = -1;
  for (int i = 0; i <= points; ++i) {
    const double value = criterion(std::exp(lowest + (highest - lowest) * i / points));
    if (value < best_value - 1e-10) {
      best_value = value;
      at = i;
    }
  }
  if (at < 0) {
    return best;
  }
  const double step = (highest - lowest) / points;
  double lo = lowest + step * at - step;
  double hi = lo + 2.0 * step;
  const double golden = 0.5 * (std::sqrt(5.0) - 1.0);
  double x1 = hi - golden * (hi - lo);
  double x2 = lo + golden * (hi - lo);
  double f1 = criterion(std::exp(x1));
  double f2 = criterion(std::exp(x2));
  while (hi - lo > 1e-4) {
    if (f1 < f2) {
      hi = x2;
      x2 = x1;
      f2 = f1;
      x1 = hi - golden * (hi - lo);
      f1 = criterion(std::exp(x1));
    } else {
      lo = x1;
      x1 = x2;
      f1 = f2;
      x2 = lo + golden * (hi - lo);
      f2 = criterion(std::exp(x2));
    }
  }
  // The last digits by two Newton steps on differences.
  double t = 0.5 * (lo + hi);
  for (int i = 0; i < 2; ++i) {
    constexpr double h = 2e-3;
    const double below = criterion(std::exp(t - h));
    const double above = criterion(std::exp(t + h));
    const double here = criterion(std::exp(t));
    const double curvature = above - 2.0 * here + below;
    if (curvature > 0.0) {
      t += std::clamp(-0.5 * h * (above - below) / curvature, -1e-3, 1e-3);
    }
  }
  return std::exp(t);
}

}  // namespace

GroupContrastFit fit_group_contrasts(const GroupContrastSpec& spec, const GroupContrastOptions& options) {
  check_spec(spec, options);
  GroupContrastFit fit;
  if (spec.response.empty()) {
    fit.status = FitStatus::too_few_data;
    fit.message = "no observations";
    return fit;
  }
  const System all(spec);
  fit.within_df = all.within();
  fit.between_df = all.between();
  fit.confounded = all.confounded();
  const double degrees = all.degrees();
  fit.residual_given = degrees < 0.5;
  if (fit.residual_given && !options.residual_sd) {
    fit.status = FitStatus::too_few_data;
    fit.message = "as many coefficients as observations: no scatter is left to divide";
    return fit;
  }
  fit.residual_df = fit.residual_given ? std::numeric_limits<double>::infinity() : degrees;
  const double floor = options.least_residual_sd * options.least_residual_sd;
  const bool estimated = !options.block_sd && !fit.residual_given && fit.within_df > 0 && fit.between_df > 0;

  // The knowledge is in the response's unit, so the residual variance takes part in its weight: repeat until it stands.
  double variance = fit.residual_given ? *options.residual_sd * *options.residual_sd : 1.0;
  double lambda = 0.0;
  const auto residual = [&](double at_lambda) {
    return std::max(floor, all.at(at_lambda, variance, false).rss / degrees);
  };
  if (!fit.residual_given) {
    if (all.has_knowledge()) {
      double mean = 0.0;
      for (const double y : spec.response) {
        mean += y / static_cast<double>(spec.response.size());
      }
      variance = std::max(floor, 1e-4 * mean * mean);
    }
    for (int pass = 0; pass < (all.has_knowledge() ? 8 : 1); ++pass) {
      const double before = variance;
      if (options.block_sd) {
        for (int i = 0; i < 30; ++i) {
          const double was = lambda;
          const double now = residual(lambda);
          lambda = now > 0.0 ? *options.block_sd * *options.block_sd / now : 0.0;
          if (std::fabs(lambda - was) < 1e-10 * (1.0 + lambda)) {
            break;
          }
        }
      } else if (estimated && residual(0.0) > floor) {
        lambda = best_lambda(all, variance, degrees);
      }
      variance = residual(lambda);
      if (std::fabs(variance - before) < 1e-7 * variance) {
        break;
      }
    }
  } else if (options.block_sd && variance > 0.0) {
    lambda = *options.block_sd * *options.block_sd / variance;
  }
  if (!(variance > 0.0)) {
    fit.status = FitStatus::failed;
    fit.message = "the coefficients fit every observation exactly: no scatter is left to divide";
    return fit;
  }
  fit.residual_sd = std::sqrt(variance);
  fit.block_sd = std::sqrt(lambda * variance);
  const auto here = all.at(lambda, variance, true);
  if (!here.fine) {
    fit.status = FitStatus::failed;
    fit.message = "the normal equations could not be solved";
    return fit;
  }
  fit.status = estimated && lambda == 0.0 ? FitStatus::at_boundary : FitStatus::converged;
  fit.message = fit.status == FitStatus::at_boundary ? "at the boundary: no variance between blocks" : "";

  // Satterthwaite's df: Var(c) = sigma^2 f(lambda), covariance of (sigma^2, lambda) from the curvature of
  // log_det(lambda) + df log sigma^2 + rss(lambda) / sigma^2.
  const auto estimates = all.contrasts(lambda, here);
  std::vector<double> by_variance(estimates.size());
  std::vector<double> by_lambda(estimates.size(), 0.0);
  Eigen::Matrix2d covariance = Eigen::Matrix2d::Zero();
  covariance(0, 0) = 2.0 * variance * variance / degrees;
  for (std::size_t i = 0; i < estimates.size(); ++i) {
    by_variance[i] = estimates[i].variance;
  }
  if (lambda > 0.0) {
    constexpr double h = 4e-3;  // of log lambda
    std::array<System::Values, 5> v;
    std::array<std::vector<System::Contrast>, 5> c;
    for (std::size_t i = 0; i < 5; ++i) {
      const double there = lambda * std::exp(h * (static_cast<double>(i) - 2.0));
      v.at(i) = all.at(there, variance, true);
      c.at(i) = all.contrasts(there, v.at(i));
    }
    const auto first = [&](const auto& value) {
      return (value(0) - 8.0 * value(1) + 8.0 * value(3) - value(4)) / (12.0 * h);
    };
    const auto second = [&](const auto& value) {
      return (-value(0) + 16.0 * value(1) - 30.0 * value(2) + 16.0 * value(3) - value(4)) / (12.0 * h * h);
    };
    for (std::size_t i = 0; i < estimates.size(); ++i) {
      by_lambda[i] = variance * first([&](std::size_t k) { return c.at(k)[i].variance; });
    }
    if (options.block_sd) {
      // lambda = block variance / sigma^2: by_variance along that curve, d log lambda / d sigma^2 = -1 / sigma^2.
      for (std::size_t i = 0; i < estimates.size(); ++i) {
        by_variance[i] -= by_lambda[i] / variance;
        by_lambda[i] = 0.0;
      }
    } else {
      Eigen::Matrix2d curvature;
      curvature(0, 0) = degrees / (variance * variance);
      curvature(0, 1) = curvature(1, 0) = -first([&](std::size_t k) { return v.at(k).rss; }) / (variance * variance);
      curvature(1, 1) = second([&](std::size_t k) { return v.at(k).log_det + v.at(k).rss / variance; });
      if (curvature.determinant() > 0.0 && curvature(1, 1) > 0.0) {
        covariance = 2.0 * curvature.inverse();
      }
    }
  }
  const auto made = [&](std::size_t i) -> std::optional<TEstimate> {
    if (!estimates[i].exists) {
      return std::nullopt;
    }
    const double var = variance * estimates[i].variance;
    double df = std::numeric_limits<double>::infinity();
    if (!fit.residual_given) {
      const Eigen::Vector2d gradient(by_variance[i], by_lambda[i]);
      const double of_variance = gradient.dot(covariance * gradient);
      df = of_variance > 0.0 ? 2.0 * var * var / of_variance : df;
    }
    return t_estimate(estimates[i].estimate, std::sqrt(var), df, options.level);
  };
  for (std::size_t i = 0; i + 1 < estimates.size(); ++i) {
    fit.contrasts.push_back(made(i));
  }
  fit.mean = made(estimates.size() - 1);
  const auto scaled = [&](std::optional<SharedEstimate> e) {
    if (e) {
      e->se = std::sqrt(std::max(0.0, e->se) * variance);
    }
    return e;
  };
  for (int j = 0; j < spec.shared_columns; ++j) {
    fit.shared.push_back(scaled(all.direction({{j, 1.0}}, here)));
  }
  for (const auto& row : spec.directions) {
    fit.directions.push_back(scaled(all.direction(row, here)));
    fit.direction_known_sd.push_back(all.known_sd(row));
  }
  return fit;
}

}  // namespace bagsplit::stats
