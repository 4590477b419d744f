// From a spec to cross-products: which columns are connected, which are combinations of others, what is free.
#include <Eigen/Cholesky>
#include <Eigen/Eigenvalues>
#include <Eigen/QR>
#include <algorithm>
#include <cmath>
#include <iterator>
#include <map>
#include <numeric>
#include <tuple>

#include "bagsplit/stats/detail/check.hpp"
#include "bagsplit/stats/detail/group_system.hpp"

namespace bagsplit::stats::detail {

using Eigen::Index;
using Eigen::MatrixXd;
using Eigen::VectorXd;

namespace {

constexpr double nothing = 1e-9;  // relative size below which a column is a combination of others

}  // namespace

GroupSystem::GroupSystem(const GroupContrastSpec& spec) : spec_(spec) {
  origin_ =
      std::accumulate(spec.response.begin(), spec.response.end(), 0.0) / static_cast<double>(spec.response.size());
  connect();
  gather();
  find_bases();
  count();
}

int GroupSystem::root(int column) {
  while (parent_[static_cast<std::size_t>(column)] != column) {
    column = parent_[static_cast<std::size_t>(column)] =
        parent_[static_cast<std::size_t>(parent_[static_cast<std::size_t>(column)])];
  }
  return column;
}

void GroupSystem::connect() {
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
    SharedComponent& c = components_[static_cast<std::size_t>(at->second)];
    component_of_[j] = at->second;
    place_of_[j] = static_cast<int>(c.columns.size());
    c.columns.push_back(static_cast<int>(j));
  }
  for (SharedComponent& c : components_) {
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
      SharedComponent& component = components_[static_cast<std::size_t>(c)];
      const Index i = place_of_[static_cast<std::size_t>(a.column)];
      component.pull[i] += weight * a.value * known.value;
      for (const SharedEntry& b : known.row) {
        if (component_of_[static_cast<std::size_t>(b.column)] == c) {
          component.precision(i, place_of_[static_cast<std::size_t>(b.column)]) += weight * a.value * b.value;
        }
      }
    }
  }
  for (SharedComponent& c : components_) {
    if (!c.precision.isZero(0.0)) {
      const Eigen::CompleteOrthogonalDecomposition<MatrixXd> cod(c.precision);
      c.known_rank = static_cast<std::size_t>(cod.rank());
      c.known_square = c.pull.dot(cod.solve(c.pull));
    }
  }
}

void GroupSystem::gather() {
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

void GroupSystem::gather_group(GroupRows& g, std::span<const std::size_t> rows, std::vector<bool>& block_seen) {
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
      check::fail_call("fit_group_contrasts", "a block lies in two groups");
    }
    block_seen[static_cast<std::size_t>(block)] = true;
    const auto part = used.middleRows(static_cast<Index>(from), static_cast<Index>(to - from));
    const VectorXd mean = part.colwise().mean();
    const MatrixXd about = part.rowwise() - mean.transpose();
    g.within.noalias() += about.transpose() * about;
    const double size = static_cast<double>(to - from);
    auto like = std::find_if(g.blocks.begin(), g.blocks.end(), [&](const GroupBlocks& b) { return b.rows == size; });
    if (like == g.blocks.end()) {
      g.blocks.push_back({size, 0.0, MatrixXd::Zero(used.cols(), used.cols())});
      like = std::prev(g.blocks.end());
    }
    like->count += 1.0;
    like->squares.noalias() += mean * mean.transpose();
    ++blocks_;
    from = to;
  }
  rows_ += rows.size();
  own_rank_ += g.own.size();
}

MatrixXd GroupSystem::normal_of(std::size_t component) const {
  const auto m = static_cast<Index>(components_[component].columns.size());
  MatrixXd out = MatrixXd::Zero(m, m);
  for (const GroupRows& g : groups_) {
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

VectorXd GroupSystem::sizes_of(std::size_t component) const {
  VectorXd out = VectorXd::Zero(static_cast<Index>(components_[component].columns.size()));
  for (const GroupRows& g : groups_) {
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

void GroupSystem::find_bases() {
  for (std::size_t c = 0; c < components_.size(); ++c) {
    SharedComponent& component = components_[c];
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
      for (Index i = 0; i < q && nullity > 0; ++i) {
        const Index at = kept[static_cast<std::size_t>(i)];
        null.row(i) /= scale[at];
      }
      MatrixXd balanced = null;
      for (Index i = 0; i < q && nullity > 0; ++i) {
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
        for (Index i = 0; i < q && q > nullity; ++i) {  // a row of a matrix without columns is nowhere
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

void GroupSystem::count() {
  std::size_t known = 0;
  for (const SharedComponent& c : components_) {
    known += c.known_rank;
  }
  const double n = static_cast<double>(rows_ + known);
  degrees_ = n - static_cast<double>(own_rank_ + rank_);
  // Within blocks: what the shared columns explain there.
  std::size_t inside = 0;
  for (std::size_t c = 0; c < components_.size(); ++c) {
    const auto m = static_cast<Index>(components_[c].columns.size());
    MatrixXd w = MatrixXd::Zero(m, m);
    for (const GroupRows& g : groups_) {
      if (g.component == static_cast<int>(c)) {
        for (std::size_t i = 0; i < g.active.size(); ++i) {
          for (std::size_t j = 0; j < g.active.size(); ++j) {
            w(g.active[i], g.active[j]) += g.within(g.rows() + static_cast<Index>(i), g.rows() + static_cast<Index>(j));
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

}  // namespace bagsplit::stats::detail
