#include "bagsplit/stats/detail/mixed_system.hpp"

#include <Eigen/Cholesky>
#include <Eigen/OrderingMethods>
#include <Eigen/QR>
#include <Eigen/SparseCore>
#include <algorithm>
#include <cmath>
#include <numeric>
#include <utility>

namespace bagsplit::stats::detail {

namespace {

using Eigen::Index;
using Eigen::MatrixXd;
using Eigen::VectorXd;

/// Scale that makes the columns of a term orthonormal (correlated) or of length 1 (not); empty if they are dependent.
MatrixXd transform_of(const MatrixXd& columns, bool correlated) {
  const Index q = columns.cols();
  const MatrixXd moments = columns.transpose() * columns / static_cast<double>(columns.rows());
  MatrixXd t = MatrixXd::Zero(q, q);
  if (!correlated || q == 1) {
    t.diagonal() = moments.diagonal().cwiseSqrt();
    return t.diagonal().minCoeff() > 0.0 ? t : MatrixXd();
  }
  // Cholesky of the correlations rather than of the moments, so that unequal units do not look like dependence.
  const VectorXd size = moments.diagonal().cwiseSqrt();
  if (!(size.minCoeff() > 0.0)) {
    return {};
  }
  MatrixXd correlation = moments;
  for (Index i = 0; i < q; ++i) {
    for (Index j = 0; j < q; ++j) {
      correlation(i, j) /= size[i] * size[j];
    }
  }
  const Eigen::LLT<MatrixXd> llt(correlation);
  const MatrixXd upper = llt.matrixU();
  if (llt.info() != Eigen::Success || upper.diagonal().minCoeff() < 1e-7) {
    return {};
  }
  t = upper * size.asDiagonal();
  return t;
}

/// Columns that are combinations of those before them, by Gram-Schmidt with one repetition.
std::vector<Index> dependent_columns(const MatrixXd& x) {
  std::vector<Index> out;
  MatrixXd kept(x.rows(), 0);
  for (Index j = 0; j < x.cols(); ++j) {
    VectorXd v = x.col(j);
    const double size = v.norm();
    v -= kept * (kept.transpose() * v);
    v -= kept * (kept.transpose() * v);
    if (!(v.norm() > 1e-9 * size)) {
      out.push_back(j);
      continue;
    }
    kept.conservativeResize(Eigen::NoChange, kept.cols() + 1);
    kept.col(kept.cols() - 1) = v.normalized();
  }
  return out;
}

using RowMatrix = Eigen::Matrix<double, Eigen::Dynamic, Eigen::Dynamic, Eigen::RowMajor>;

/// Whether two groupings put the same observations together.
bool same_partition(const std::vector<int>& a, const std::vector<int>& b) {
  const int most_a = *std::max_element(a.begin(), a.end());
  const int most_b = *std::max_element(b.begin(), b.end());
  std::vector<int> to_b(static_cast<std::size_t>(most_a) + 1, -1);
  std::vector<int> to_a(static_cast<std::size_t>(most_b) + 1, -1);
  for (std::size_t i = 0; i < a.size(); ++i) {
    int& forward = to_b[static_cast<std::size_t>(a[i])];
    int& back = to_a[static_cast<std::size_t>(b[i])];
    if (forward < 0) {
      forward = b[i];
    }
    if (back < 0) {
      back = a[i];
    }
    if (forward != b[i] || back != a[i]) {
      return false;
    }
  }
  return true;
}

}  // namespace

std::string MixedSystem::build(const MixedModelSpec& spec, FitStatus& status, std::vector<Index>& aliased) {
  n_ = static_cast<int>(spec.response.size());
  p_ = static_cast<int>(spec.fixed.cols());
  status = FitStatus::too_few_data;
  if (n_ <= p_) {
    return std::to_string(n_) + " observations for " + std::to_string(p_) + " fixed effects";
  }
  status = FitStatus::not_identifiable;

  // Fixed effects: y = Q (Q'y) + e.
  VectorXd norms = spec.fixed.colwise().norm().transpose();
  for (Index j = 0; j < p_; ++j) {
    norms[j] = norms[j] > 0.0 ? norms[j] : 1.0;
  }
  Eigen::ColPivHouseholderQR<MatrixXd> qr(spec.fixed * norms.cwiseInverse().asDiagonal());
  qr.setThreshold(1e-9);
  if (qr.rank() < p_) {
    aliased = dependent_columns(spec.fixed);
    std::string list;
    for (const Index j : aliased) {
      list += (list.empty() ? "" : ", ") + std::to_string(j);
    }
    return "fixed-effect columns that depend on those before them: " + list;
  }
  const MatrixXd q = qr.householderQ() * MatrixXd::Identity(n_, p_);
  basis_to_x_ = qr.colsPermutation() *
                MatrixXd(qr.matrixR().topRows(p_).triangularView<Eigen::Upper>().solve(MatrixXd::Identity(p_, p_)));
  basis_to_x_ = norms.cwiseInverse().asDiagonal() * basis_to_x_;
  log_abs_det_r_ = qr.matrixR().topRows(p_).diagonal().cwiseAbs().array().log().sum() + norms.array().log().sum();
  basis_response_ = q.transpose() * spec.response;
  VectorXd e = spec.response - q * basis_response_;
  e -= q * (q.transpose() * e);  // once more: what the first pass left by rounding
  total_ = e.squaredNorm();

  // Random effects.
  nodes_ = 0;
  effects_ = 0;
  block_size_ = 0;
  for (const auto& given : spec.random) {
    Term term{};
    const MatrixXd columns = given.columns.size() > 0 ? given.columns : MatrixXd::Ones(n_, 1);
    term.columns = static_cast<int>(columns.cols());
    term.levels = given.levels > 0 ? given.levels : *std::max_element(given.group.begin(), given.group.end()) + 1;
    term.first_node = nodes_;
    term.correlated = given.correlated;
    term.first_block = block_size_;
    std::vector<char> seen(at(term.levels), 0);
    for (const int level : given.group) {
      seen[at(level)] = 1;
    }
    const auto occupied = std::count(seen.begin(), seen.end(), 1);
    if (occupied < 2) {
      return "'" + given.name + "' has one level only";
    }
    if (occupied * term.columns >= n_) {
      return "'" + given.name +
             "' has as many effects as there are observations: they cannot be told from the residuals";
    }
    term.transform = transform_of(columns, term.correlated);
    if (term.transform.size() == 0) {
      return "the columns of '" + given.name + "' depend on each other or are all 0";
    }
    term.inner = term.transform.transpose().triangularView<Eigen::Lower>().solve(columns.transpose()).transpose();
    block_size_ += term.columns * term.columns;
    nodes_ += term.levels;
    effects_ += term.levels * term.columns;
    terms_.push_back(std::move(term));
  }
  for (std::size_t a = 0; a < spec.random.size(); ++a) {
    for (std::size_t b = 0; b < a; ++b) {
      if (same_partition(spec.random[a].group, spec.random[b].group) &&
          terms_[a].inner.cols() == terms_[b].inner.cols() && terms_[a].inner == terms_[b].inner) {
        return "'" + spec.random[b].name + "' and '" + spec.random[a].name + "' group the observations alike";
      }
    }
  }
  order_nodes(spec);
  collect_pairs(spec);
  build_pattern();

  // Z_inner'[Q, e].
  const std::size_t width = at(p_ + 1);
  right_.assign(at(effects_) * width, 0.0);
  const RowMatrix q_rows = q;
  for (std::size_t t = 0; t < terms_.size(); ++t) {
    const Term& term = terms_[t];
    double absorbed = 0.0;
    for (int i = 0; i < n_; ++i) {
      const int first = position(t, spec.random[t].group[at(i)]);
      for (int c = 0; c < term.columns; ++c) {
        const double z = term.inner(i, c);
        double* row = right_.data() + at(first + c) * width;
        for (int j = 0; j < p_; ++j) {
          row[j] += z * q_rows(i, j);
        }
        row[p_] += z * e[i];
      }
    }
    for (int u = 0; u < term.levels; ++u) {
      for (int c = 0; c < term.columns; ++c) {
        const double* row = right_.data() + at(position(t, u) + c) * width;
        for (int j = 0; j < p_; ++j) {
          absorbed += row[j] * row[j];
        }
      }
    }
    if (absorbed > (1.0 - 1e-10) * term.inner.squaredNorm()) {
      return "'" + spec.random[t].name + "' is absorbed by the fixed effects";
    }
  }
  status = FitStatus::converged;
  const double scale = spec.response.cwiseAbs().maxCoeff() * 1e-14;
  if (!(total_ > scale * scale * static_cast<double>(n_))) {
    status = FitStatus::failed;
    return "the fixed effects fit every observation exactly: no scatter is left to divide";
  }
  return {};
}

// One term needs no order: its levels do not touch. Otherwise a minimum-degree order of the levels (not of the effects,
// so that the effects of a level stay together).
void MixedSystem::order_nodes(const MixedModelSpec& spec) {
  node_term_.clear();
  for (std::size_t t = 0; t < terms_.size(); ++t) {
    node_term_.insert(node_term_.end(), at(terms_[t].levels), static_cast<int>(t));
  }
  std::vector<int> order(at(nodes_));
  std::iota(order.begin(), order.end(), 0);
  if (terms_.size() > 1) {
    std::vector<Eigen::Triplet<int>> links;
    const auto same = [&](std::size_t t, int i) {
      return i > 0 && spec.random[t].group[at(i)] == spec.random[t].group[at(i - 1)];
    };
    for (int i = 0; i < n_; ++i) {
      for (std::size_t a = 0; a < terms_.size(); ++a) {
        for (std::size_t b = 0; b < terms_.size(); ++b) {
          if (!same(a, i) || !same(b, i)) {
            links.emplace_back(terms_[a].first_node + spec.random[a].group[at(i)],
                               terms_[b].first_node + spec.random[b].group[at(i)], 1);
          }
        }
      }
    }
    Eigen::SparseMatrix<int> graph(nodes_, nodes_);
    graph.setFromTriplets(links.begin(), links.end());
    Eigen::PermutationMatrix<Eigen::Dynamic, Eigen::Dynamic, int> permutation;
    Eigen::AMDOrdering<int>()(graph, permutation);
    for (int k = 0; k < nodes_; ++k) {
      order[at(k)] = permutation.indices()[k];
    }
  }
  node_position_.assign(at(nodes_), 0);
  nodes_in_order_.clear();
  int next = 0;
  for (const int node : order) {
    const Term& term = terms_[at(node_term_[at(node)])];
    node_position_[at(node)] = next;
    nodes_in_order_.push_back({next, term.columns, term.first_block});
    next += term.columns;
  }
}

void MixedSystem::collect_pairs(const MixedModelSpec& spec) {
  diagonal_pairs_.clear();
  pairs_.clear();
  cross_.clear();
  const auto node_at = [&](int node) {
    const Term& term = terms_[at(node_term_[at(node)])];
    return Node{node_position_[at(node)], term.columns, term.first_block};
  };
  std::vector<int> start, by_level(at(n_)), last(at(nodes_), -1), pair_of(at(nodes_), -1);
  for (std::size_t s = 0; s < terms_.size(); ++s) {
    const Term& a = terms_[s];
    // Observations by level of this term.
    start.assign(at(a.levels + 1), 0);
    for (const int level : spec.random[s].group) {
      ++start[at(level + 1)];
    }
    std::partial_sum(start.begin(), start.end(), start.begin());
    std::vector<int> next(start.begin(), start.end() - 1);
    for (int i = 0; i < n_; ++i) {
      by_level[at(next[at(spec.random[s].group[at(i)])]++)] = i;
    }
    for (std::size_t t = 0; t <= s; ++t) {
      const Term& b = terms_[t];
      std::fill(last.begin(), last.end(), -1);
      for (int level = 0; level < a.levels; ++level) {
        const int node_a = a.first_node + level;
        if (s == t) {
          diagonal_pairs_.push_back({node_at(node_a), node_at(node_a), static_cast<int>(cross_.size()), 0, 0});
          cross_.resize(cross_.size() + at(a.columns * a.columns), 0.0);
        }
        for (int k = start[at(level)]; k < start[at(level + 1)]; ++k) {
          const int i = by_level[at(k)];
          const int node_b = b.first_node + spec.random[t].group[at(i)];
          int data = 0;
          bool swapped = false;
          if (s == t) {
            data = diagonal_pairs_.back().data;
          } else {
            if (last[at(node_b)] != node_a) {
              last[at(node_b)] = node_a;
              pair_of[at(node_b)] = static_cast<int>(pairs_.size());
              const bool later = node_position_[at(node_a)] > node_position_[at(node_b)];
              pairs_.push_back({node_at(later ? node_a : node_b), node_at(later ? node_b : node_a),
                                static_cast<int>(cross_.size()), 0, 0});
              cross_.resize(cross_.size() + at(a.columns * b.columns), 0.0);
            }
            const Pair& pair = pairs_[at(pair_of[at(node_b)])];
            data = pair.data;
            swapped = pair.row.position != node_position_[at(node_a)];
          }
          for (int c = 0; c < a.columns; ++c) {
            for (int d = 0; d < b.columns; ++d) {
              const int where = swapped ? d * a.columns + c : c * b.columns + d;
              cross_[at(data + where)] += a.inner(i, c) * b.inner(i, d);
            }
          }
        }
      }
    }
  }
}

void MixedSystem::build_pattern() {
  // Entries in each row of the strict lower triangle: the effects of earlier nodes, then the earlier effects of the own
  // node.
  std::vector<int> row_start(at(effects_ + 1), 0);
  for (const auto& pair : pairs_) {
    for (int c = 0; c < pair.row.columns; ++c) {
      row_start[at(pair.row.position + c + 1)] += pair.col.columns;
    }
  }
  for (const auto& pair : diagonal_pairs_) {
    for (int c = 0; c < pair.row.columns; ++c) {
      row_start[at(pair.row.position + c + 1)] += c;
    }
  }
  std::partial_sum(row_start.begin(), row_start.end(), row_start.begin());
  std::vector<int> next(row_start.begin(), row_start.end() - 1);
  std::vector<int> columns(at(row_start.back()));
  slots_.clear();
  for (auto& pair : pairs_) {
    pair.slots = static_cast<int>(slots_.size());
    for (int c = 0; c < pair.row.columns; ++c) {
      int& here = next[at(pair.row.position + c)];
      slots_.push_back(here);
      for (int d = 0; d < pair.col.columns; ++d) {
        columns[at(here++)] = pair.col.position + d;
      }
    }
  }
  for (auto& pair : diagonal_pairs_) {
    pair.slots = static_cast<int>(slots_.size());
    for (int c = 0; c < pair.row.columns; ++c) {
      int& here = next[at(pair.row.position + c)];
      slots_.push_back(here);
      for (int d = 0; d < c; ++d) {
        columns[at(here++)] = pair.col.position + d;
      }
    }
  }
  lower_.assign(columns.size(), 0.0);
  diagonal_.assign(at(effects_), 0.0);
  factor_.analyse(std::move(row_start), std::move(columns));
  inverse_slots_.clear();
  for (auto& pair : pairs_) {
    pair.inverse = static_cast<int>(inverse_slots_.size());
    for (int c = 0; c < pair.row.columns; ++c) {
      for (int d = 0; d < pair.col.columns; ++d) {
        inverse_slots_.push_back(factor_.find(pair.row.position + c, pair.col.position + d));
      }
    }
  }
  for (auto& pair : diagonal_pairs_) {
    pair.inverse = static_cast<int>(inverse_slots_.size());
    for (int c = 0; c < pair.row.columns; ++c) {
      for (int d = 0; d < c; ++d) {
        inverse_slots_.push_back(factor_.find(pair.row.position + c, pair.col.position + d));
      }
    }
  }
}

void MixedSystem::fill_pair(const Pair& pair) {
  const double* s = cross_.data() + pair.data;
  const double* ma = blocks_.data() + pair.row.block;
  const double* mb = blocks_.data() + pair.col.block;
  const int qa = pair.row.columns;
  const int qb = pair.col.columns;
  for (int i = 0; i < qa; ++i) {
    for (int j = 0; j < qb; ++j) {
      double sum = 0.0;
      for (int k = 0; k < qa; ++k) {
        for (int l = 0; l < qb; ++l) {
          sum += ma[k * qa + i] * s[k * qb + l] * mb[l * qb + j];
        }
      }
      lower_[at(slots_[at(pair.slots + i)] + j)] = sum;
    }
  }
}

void MixedSystem::fill_diagonal_pair(const Pair& pair) {
  const double* s = cross_.data() + pair.data;
  const double* m = blocks_.data() + pair.row.block;
  const int q = pair.row.columns;
  for (int i = 0; i < q; ++i) {
    for (int j = 0; j <= i; ++j) {
      double sum = 0.0;
      for (int k = 0; k < q; ++k) {
        for (int l = 0; l < q; ++l) {
          sum += m[k * q + i] * s[k * q + l] * m[l * q + j];
        }
      }
      if (i == j) {
        diagonal_[at(pair.row.position + i)] = sum + 1.0;
      } else {
        lower_[at(slots_[at(pair.slots + i)] + j)] = sum;
      }
    }
  }
}

/// A = M'S M + I, block by block.
void MixedSystem::fill_matrix() {
  for (const auto& pair : pairs_) {
    if (pair.scalar()) {
      lower_[at(slots_[at(pair.slots)])] =
          blocks_[at(pair.row.block)] * cross_[at(pair.data)] * blocks_[at(pair.col.block)];
    } else {
      fill_pair(pair);
    }
  }
  for (const auto& pair : diagonal_pairs_) {
    if (pair.scalar()) {
      const double m = blocks_[at(pair.row.block)];
      diagonal_[at(pair.row.position)] = m * cross_[at(pair.data)] * m + 1.0;
    } else {
      fill_diagonal_pair(pair);
    }
  }
}

bool MixedSystem::evaluate(const std::vector<double>& blocks) {
  blocks_ = blocks;
  const int width = p_ + 1;
  fill_matrix();
  if (!factor_.factor(lower_, diagonal_)) {
    return false;
  }
  // rhs = M'Z'[Q, e]; solution = A^-1 rhs.
  rhs_.resize(right_.size());
  multiply_by_blocks(right_, rhs_, width, true);
  solution_ = rhs_;
  factor_.solve(solution_.data(), width);
  // H, c and the response's part from the products of rhs and solution.
  MatrixXd products = MatrixXd::Zero(width, width);
  for (int u = 0; u < effects_; ++u) {
    const double* a = rhs_.data() + at(u * width);
    const double* b = solution_.data() + at(u * width);
    for (int i = 0; i < width; ++i) {
      for (int j = 0; j <= i; ++j) {
        products(i, j) += a[i] * b[j];
      }
    }
  }
  h_ = -products.topLeftCorner(p_, p_);
  h_.diagonal().array() += 1.0;
  h_.triangularView<Eigen::StrictlyUpper>() = h_.transpose();
  const VectorXd c = -products.row(p_).head(p_).transpose();
  const Eigen::LLT<MatrixXd> llt(h_);
  if (llt.info() != Eigen::Success) {
    return false;
  }
  log_det_h_ = 0.0;
  for (Index j = 0; j < p_; ++j) {
    log_det_h_ += 2.0 * std::log(llt.matrixLLT()(j, j));
  }
  h_inverse_ = llt.solve(MatrixXd::Identity(p_, p_));
  beta_ = llt.solve(c);
  rss_ = total_ - products(p_, p_) - c.dot(beta_);
  return rss_ > 0.0 && std::isfinite(log_det_h_) && rss_ > 1e-14 * total_;
}

/// out = M x (or M'x) for every node, rows of `width`.
void MixedSystem::multiply_by_blocks(const std::vector<double>& x, std::vector<double>& out, int width,
                                     bool transpose) const {
  for (const Node& node : nodes_in_order_) {
    const double* m = blocks_.data() + node.block;
    const double* source = x.data() + at(node.position * width);
    double* target = out.data() + at(node.position * width);
    const int q = node.columns;
    for (int i = 0; i < q; ++i) {
      for (int j = 0; j < width; ++j) {
        double sum = 0.0;
        for (int k = 0; k < q; ++k) {
          sum += (transpose ? m[k * q + i] : m[i * q + k]) * source[k * width + j];
        }
        target[i * width + j] = sum;
      }
    }
  }
}

// With G = Z'W^-1 Q, U = M'G = A^-1 M'Z'Q, u the spherical effects and g = Z'(e - Q beta - Z M u), the derivatives with
// respect to element (i, j) of a term's block are sums over its levels:
//   log|W|   2 (S M A^-1)_ij           log|H|   -2 G_i H^-1 U_j'           rss   -2 g_i u_j
void MixedSystem::differentiate() {
  factor_.invert_on_pattern();
  const int width = p_ + 1;
  // The last column of the solution becomes u = solution_e - solution_Q beta; likewise that of the right sides.
  combined_ = solution_;
  projected_ = right_;
  for (int r = 0; r < effects_; ++r) {
    double* s = combined_.data() + at(r * width);
    double* f = projected_.data() + at(r * width);
    for (int j = 0; j < p_; ++j) {
      s[p_] -= s[j] * beta_[j];
      f[p_] -= f[j] * beta_[j];
    }
  }
  std::vector<double>& mu = rhs_;  // M [U, u]
  multiply_by_blocks(combined_, mu, width, false);
  d_w_.assign(at(block_size_), 0.0);
  switch (width) {
    case 2:
      differentiate_pairs<2>(mu);
      break;
    case 3:
      differentiate_pairs<3>(mu);
      break;
    default:
      differentiate_pairs<0>(mu);
  }
  differentiate_nodes();
}

/// projected -= S (M [U, u]), and the trace terms, pair by pair. A small width is known to the compiler.
template <int Width>
void MixedSystem::differentiate_pairs(const std::vector<double>& mu) {
  const int width = Width > 0 ? Width : p_ + 1;
  const auto subtract = [&](int to, double w, int from) {
    double* target = projected_.data() + at(to * width);
    const double* source = mu.data() + at(from * width);
    for (int j = 0; j < width; ++j) {
      target[j] -= w * source[j];
    }
  };
  // `entry` gives the inverse's element (i of a, j of b).
  const auto accumulate = [&](const Node& a, const Node& b, const double* s, bool transposed, const auto& entry) {
    const int qa = a.columns;
    const int qb = b.columns;
    const double* mb = blocks_.data() + b.block;
    const auto cross = [&](int i, int k) { return transposed ? s[k * qa + i] : s[i * qb + k]; };
    for (int i = 0; i < qa; ++i) {
      for (int k = 0; k < qb; ++k) {
        subtract(a.position + i, cross(i, k), b.position + k);
      }
      // (S_ab M_b (A^-1)_ba)_ij
      for (int l = 0; l < qb; ++l) {
        double sm = 0.0;
        for (int k = 0; k < qb; ++k) {
          sm += cross(i, k) * mb[k * qb + l];
        }
        for (int j = 0; j < qa; ++j) {
          d_w_[at(a.block + i * qa + j)] += 2.0 * sm * entry(l, j);
        }
      }
    }
  };
  for (const auto& pair : pairs_) {
    const double* s = cross_.data() + pair.data;
    const std::size_t* slots = inverse_slots_.data() + pair.inverse;
    if (pair.scalar()) {
      subtract(pair.row.position, *s, pair.col.position);
      subtract(pair.col.position, *s, pair.row.position);
      const double twice = 2.0 * *s * factor_.inverse_at(*slots);
      d_w_[at(pair.row.block)] += twice * blocks_[at(pair.col.block)];
      d_w_[at(pair.col.block)] += twice * blocks_[at(pair.row.block)];
      continue;
    }
    // Row node first: the inverse's (col l, row j) is stored at (row j, col l).
    const int qb = pair.col.columns;
    accumulate(pair.row, pair.col, s, false, [&](int l, int j) { return factor_.inverse_at(slots[j * qb + l]); });
    accumulate(pair.col, pair.row, s, true, [&](int l, int j) { return factor_.inverse_at(slots[l * qb + j]); });
  }
  for (const auto& pair : diagonal_pairs_) {
    const int first = pair.row.position;
    const double* s = cross_.data() + pair.data;
    if (pair.scalar()) {
      subtract(first, *s, first);
      d_w_[at(pair.row.block)] += 2.0 * *s * blocks_[at(pair.row.block)] * factor_.inverse_diagonal(first);
      continue;
    }
    const std::size_t* slots = inverse_slots_.data() + pair.inverse;
    accumulate(pair.row, pair.row, s, false, [&](int l, int j) {
      return l == j ? factor_.inverse_diagonal(first + l)
                    : factor_.inverse_at(slots[std::max(l, j) * (std::max(l, j) - 1) / 2 + std::min(l, j)]);
    });
  }
}

/// G H^-1 U' and g u', node by node.
void MixedSystem::differentiate_nodes() {
  const int width = p_ + 1;
  d_h_.assign(at(block_size_), 0.0);
  d_rss_.assign(at(block_size_), 0.0);
  VectorXd gh(p_);
  for (const Node& node : nodes_in_order_) {
    const int q = node.columns;
    for (int i = 0; i < q; ++i) {
      const double* g = projected_.data() + at((node.position + i) * width);
      for (int j = 0; j < p_; ++j) {
        double sum = 0.0;
        for (int k = 0; k < p_; ++k) {
          sum += h_inverse_(j, k) * g[k];
        }
        gh[j] = sum;
      }
      for (int j = 0; j < q; ++j) {
        const double* u = combined_.data() + at((node.position + j) * width);
        double sum = 0.0;
        for (int k = 0; k < p_; ++k) {
          sum += gh[k] * u[k];
        }
        d_h_[at(node.block + i * q + j)] -= 2.0 * sum;
        d_rss_[at(node.block + i * q + j)] -= 2.0 * g[p_] * u[p_];
      }
    }
  }
}

VectorXd MixedSystem::fixed_effects() const {
  return basis_to_x_ * (basis_response_ + beta_);
}

MatrixXd MixedSystem::unscaled_covariance() const {
  return basis_to_x_ * h_inverse_ * basis_to_x_.transpose();
}

MatrixXd MixedSystem::covariance_slope(std::size_t t, int i, int j) const {
  const Term& term = terms_[t];
  const int width = p_ + 1;
  MatrixXd k = MatrixXd::Zero(p_, p_);
  for (int level = 0; level < term.levels; ++level) {
    const int first = position(t, level);
    const Eigen::Map<const VectorXd> g(projected_.data() + at((first + i) * width), p_);
    const Eigen::Map<const VectorXd> u(combined_.data() + at((first + j) * width), p_);
    k += g * u.transpose();
  }
  const MatrixXd outer = basis_to_x_ * h_inverse_;
  return outer * (k + k.transpose()) * outer.transpose();
}

MatrixXd MixedSystem::relative_factor(std::size_t t) const {  // Lambda = T^-1 M
  const Term& term = terms_[t];
  const Eigen::Map<const RowMatrix> m(blocks_.data() + term.first_block, term.columns, term.columns);
  return term.transform.triangularView<Eigen::Upper>().solve(MatrixXd(m));
}

MatrixXd MixedSystem::effects_of(std::size_t t) const {
  const Term& term = terms_[t];
  const MatrixXd lambda = relative_factor(t);
  MatrixXd out(term.levels, term.columns);
  VectorXd u(term.columns);
  for (int level = 0; level < term.levels; ++level) {
    for (int c = 0; c < term.columns; ++c) {
      const double* s = solution_.data() + at((position(t, level) + c) * (p_ + 1));
      u[c] = s[p_];
      for (int j = 0; j < p_; ++j) {
        u[c] -= s[j] * beta_[j];
      }
    }
    out.row(level) = (lambda * u).transpose();
  }
  return out;
}

MatrixXd MixedSystem::conditional_variance(std::size_t t) const {
  const Term& term = terms_[t];
  const int q = term.columns;
  const MatrixXd lambda = relative_factor(t);
  MatrixXd out(term.levels, q);
  MatrixXd inverse(q, q);
  for (int level = 0; level < term.levels; ++level) {
    const int first = position(t, level);
    for (int i = 0; i < q; ++i) {
      for (int j = 0; j <= i; ++j) {
        inverse(i, j) = inverse(j, i) = factor_.inverse(first + i, first + j);
      }
    }
    out.row(level) = (lambda * inverse * lambda.transpose()).diagonal().transpose();
  }
  return out;
}

double MixedSystem::prediction_variance(const VectorXd& fixed_weights, const std::vector<RandomWeight>& random) const {
  std::vector<double> m(at(effects_), 0.0);
  for (const auto& w : random) {
    const Term& term = terms_[w.term];
    // m'b = m'T^-1 b_inner
    VectorXd unit = VectorXd::Zero(term.columns);
    unit[w.column] = w.weight;
    const VectorXd inner = term.transform.transpose().triangularView<Eigen::Lower>().solve(unit);
    for (int c = 0; c < term.columns; ++c) {
      m[at(position(w.term, w.level) + c)] += inner[c];
    }
  }
  std::vector<double> rhs(at(effects_), 0.0);
  multiply_by_blocks(m, rhs, 1, true);
  std::vector<double> h = rhs;
  factor_.solve(h.data(), 1);
  double variance = 0.0;
  VectorXd t = basis_to_x_.transpose() * fixed_weights;
  // Q'Z M h = (M'Z'Q)'h.
  std::vector<double> mh(at(effects_), 0.0);
  multiply_by_blocks(h, mh, 1, false);
  for (int r = 0; r < effects_; ++r) {
    variance += rhs[at(r)] * h[at(r)];
    for (int j = 0; j < p_; ++j) {
      t[j] -= right_[at(r * (p_ + 1) + j)] * mh[at(r)];
    }
  }
  return variance + t.dot(h_inverse_ * t);
}

}  // namespace bagsplit::stats::detail
