#include "bagsplit/basepath/detail/arrow.hpp"

#include <algorithm>
#include <cmath>

#include "bagsplit/basepath/detail/symmetric.hpp"

namespace bagsplit::basepath::arrow {

namespace {

constexpr std::size_t kept[7] = {0, 1, at_end, at_end + 1, at_duration, at_pull, at_pull + 1};

template <std::size_t N>
bool cholesky(double (&m)[N][N]) {
  for (std::size_t j = 0; j < N; ++j) {
    double d = m[j][j];
    for (std::size_t k = 0; k < j; ++k) {
      d -= m[j][k] * m[j][k];
    }
    if (!(d > 0.0)) {
      return false;
    }
    const double r = std::sqrt(d);
    m[j][j] = r;
    for (std::size_t i = j + 1; i < N; ++i) {
      double t = m[i][j];
      for (std::size_t k = 0; k < j; ++k) {
        t -= m[i][k] * m[j][k];
      }
      m[i][j] = t / r;
    }
  }
  return true;
}

// x <- L^-1 x for `columns` columns of a row-major block with N rows.
template <std::size_t N>
void forward(const double (&l)[N][N], double* x, std::size_t columns) {
  for (std::size_t a = 0; a < N; ++a) {
    double* row = x + a * columns;
    for (std::size_t j = 0; j < a; ++j) {
      const double f = l[a][j];
      const double* from = x + j * columns;
      for (std::size_t c = 0; c < columns; ++c) {
        row[c] -= f * from[c];
      }
    }
    const double inverse = 1.0 / l[a][a];
    for (std::size_t c = 0; c < columns; ++c) {
      row[c] *= inverse;
    }
  }
}

template <std::size_t N>
void backward(const double (&l)[N][N], double* x) {
  for (std::size_t a = N; a-- > 0;) {
    for (std::size_t j = a + 1; j < N; ++j) {
      x[a] -= l[j][a] * x[j];
    }
    x[a] /= l[a][a];
  }
}

}  // namespace

System::System(std::vector<std::size_t> leg_of, std::size_t intervals, const std::vector<bool>& heading_free,
               const std::vector<bool>& speed_free, std::vector<std::vector<Bound>> bounds)
    : leg_of_(std::move(leg_of)),
      phases_(leg_of_.size()),
      legs_(bounds.size()),
      count_(intervals),
      bounds_(std::move(bounds)),
      heading_at_(phases_ + 1, -1),
      speed_at_(phases_ + 1, -1),
      bound_at_(legs_),
      intervals_(phases_ * intervals),
      factors_(phases_ * intervals),
      edges_(phases_),
      own_(phases_),
      pull_rhs_(legs_),
      bound_terms_(legs_),
      steps_(phases_ * intervals) {
  for (std::size_t b = 0; b <= phases_; ++b) {
    if (heading_free[b]) {
      heading_at_[b] = static_cast<std::ptrdiff_t>(size_++);
    }
    if (speed_free[b]) {
      speed_at_[b] = static_cast<std::ptrdiff_t>(size_++);
    }
  }
  duration_at_ = size_;
  size_ += phases_;
  pull_at_ = size_;
  size_ += 2 * legs_;
  for (std::size_t l = 0; l < legs_; ++l) {
    bound_at_[l] = size_;
    size_ += bounds_[l].size();
    bound_terms_[l].resize(bounds_[l].size());
  }
  for (std::size_t p = 0; p < phases_; ++p) {
    edges_[p].resize(intervals * 2 * border_size(p));
  }
  multipliers_ = size_ - pull_at_;
  matrix_.resize(size_ * size_);
  solution_.resize(size_);
}

std::ptrdiff_t System::place(std::size_t phase, std::size_t a) const {
  const std::size_t leg = leg_of_[phase];
  switch (a) {
    case 0:
    case 2:
      return heading_at_[phase + a / 2];
    case 1:
    case 3:
      return speed_at_[phase + a / 2];
    case 4:
      return static_cast<std::ptrdiff_t>(duration_at_ + phase);
    case 5:
    case 6:
      return static_cast<std::ptrdiff_t>(pull_at_ + 2 * leg + (a - 5));
    default:
      return static_cast<std::ptrdiff_t>(bound_at_[leg] + (a - 7));
  }
}

bool System::eliminate_inner(const Interval& in, double shift, Factor& f, Kept& kept_block) {
  // Inner modes belong to this interval alone.
  for (std::size_t a = 0; a < 4; ++a) {
    for (std::size_t b = 0; b < 4; ++b) {
      f.inner[a][b] = in.matrix[2 + a][2 + b];
    }
    f.inner[a][a] += shift;
    f.inner_rhs[a] = in.rhs[2 + a];
    for (std::size_t c = 0; c < 7; ++c) {
      f.inner_kept[a][c] = in.matrix[2 + a][kept[c]];
    }
  }
  if (!cholesky(f.inner)) {
    return false;
  }
  forward(f.inner, &f.inner_kept[0][0], 7);
  forward(f.inner, f.inner_rhs, 1);
  for (std::size_t a = 0; a < 7; ++a) {
    kept_block.rhs[a] = a < 5 ? in.rhs[kept[a]] : 0.0;
    for (std::size_t b = 0; b < 7; ++b) {
      kept_block.matrix[a][b] = in.matrix[kept[a]][kept[b]];
    }
  }
  for (std::size_t j = 0; j < 4; ++j) {
    for (std::size_t a = 0; a < 7; ++a) {
      const double c = f.inner_kept[j][a];
      kept_block.rhs[a] -= c * f.inner_rhs[j];
      for (std::size_t b = 0; b < 7; ++b) {
        kept_block.matrix[a][b] -= c * f.inner_kept[j][b];
      }
    }
  }
  return true;
}

void System::spread(std::size_t phase, std::size_t k, const double* row7, double* out) const {
  const std::vector<Bound>& bounds = bounds_[leg_of_[phase]];
  out[4] += row7[4];
  out[5] += row7[5];
  out[6] += row7[6];
  for (std::size_t j = 0; j < bounds.size(); ++j) {
    if (bounds[j].ahead_of(phase, k)) {
      out[7 + j] -= bounds[j].normal[0] * row7[5] + bounds[j].normal[1] * row7[6];
    }
  }
}

void System::spread_on_border(std::size_t phase, std::size_t k, std::size_t a, const double* row7) {
  const std::size_t nb = border_size(phase);
  scratch_.assign(nb, 0.0);
  spread(phase, k, row7, scratch_.data());
  for (std::size_t c = 4; c < nb; ++c) {
    border_[a * nb + c] += scratch_[c];
    border_[c * nb + a] += scratch_[c];
  }
}

void System::duration_and_pull_to_border(std::size_t phase, std::size_t k, const Kept& block) {
  const std::size_t nb = border_size(phase);
  const std::vector<Bound>& bounds = bounds_[leg_of_[phase]];
  for (std::size_t a = 4; a < 7; ++a) {
    spread(phase, k, block.matrix[a], &border_[a * nb]);
  }
  for (std::size_t a = 4; a < 7; ++a) {
    border_rhs_[a] += block.rhs[a];
  }
  for (std::size_t j = 0; j < bounds.size(); ++j) {
    if (bounds[j].ahead_of(phase, k)) {
      const Vec& normal = bounds[j].normal;
      double row[7];
      for (std::size_t c = 4; c < 7; ++c) {
        row[c] = -normal[0] * block.matrix[5][c] - normal[1] * block.matrix[6][c];
      }
      spread(phase, k, row, &border_[(7 + j) * nb]);
      border_rhs_[7 + j] -= normal[0] * block.rhs[5] + normal[1] * block.rhs[6];
    }
  }
}

// The start of interval k: a bag's heading and speed are in the border, another node's in its own two by two.
void System::add_start(std::size_t phase, std::size_t k, const Kept& block, double shift, Node& node, Node& next) {
  const std::size_t nb = border_size(phase);
  const auto& m = block.matrix;
  const bool last = k + 1 == count_;
  if (k == 0) {
    for (std::size_t a = 0; a < 2; ++a) {
      border_rhs_[a] += block.rhs[a];
      border_[a * nb] += m[a][0];
      border_[a * nb + 1] += m[a][1];
      spread_on_border(phase, k, a, m[a]);
      for (std::size_t b = 0; b < 2; ++b) {
        next.edge[b * nb + a] = m[2 + b][a];
      }
    }
    return;
  }
  for (std::size_t a = 0; a < 2; ++a) {
    node.rhs[a] += block.rhs[a];
    for (std::size_t b = 0; b < 2; ++b) {
      node.diag[a][b] += m[a][b];
      if (last) {
        node.edge[a * nb + 2 + b] += m[a][2 + b];
      } else {
        node.to_next[a][b] = m[a][2 + b];
      }
    }
    node.diag[a][a] += shift;
    spread(phase, k, m[a], &node.edge[a * nb]);
  }
}

void System::add_end(std::size_t phase, std::size_t k, const Kept& block, Node& next) {
  const std::size_t nb = border_size(phase);
  const auto& m = block.matrix;
  for (std::size_t a = 0; a < 2; ++a) {
    if (k + 1 == count_) {
      border_rhs_[2 + a] += block.rhs[2 + a];
      border_[(2 + a) * nb + 2] += m[2 + a][2];
      border_[(2 + a) * nb + 3] += m[2 + a][3];
      spread_on_border(phase, k, a + 2, m[2 + a]);
    } else {
      next.rhs[a] = block.rhs[2 + a];
      next.diag[a][0] = m[2 + a][2];
      next.diag[a][1] = m[2 + a][3];
      spread(phase, k, m[2 + a], &next.edge[a * nb]);
    }
  }
}

bool System::eliminate_node(std::size_t phase, std::size_t k, const Node& node, Node& next) {
  const std::size_t nb = border_size(phase);
  Factor& f = factors_[phase * count_ + k];
  std::copy(&node.diag[0][0], &node.diag[0][0] + 4, &f.node[0][0]);
  std::copy(&node.to_next[0][0], &node.to_next[0][0] + 4, &f.node_next[0][0]);
  std::copy(node.rhs, node.rhs + 2, f.node_rhs);
  if (!cholesky(f.node)) {
    return false;
  }
  double* edge = &edges_[phase][k * 2 * nb];
  std::copy(node.edge.begin(), node.edge.end(), edge);
  forward(f.node, edge, nb);
  forward(f.node, &f.node_next[0][0], 2);
  forward(f.node, f.node_rhs, 1);
  const bool last = k + 1 == count_;
  for (std::size_t j = 0; j < 2; ++j) {
    const double* row = edge + j * nb;
    for (std::size_t a = 0; a < 2 && !last; ++a) {
      const double c = f.node_next[j][a];
      next.rhs[a] -= c * f.node_rhs[j];
      next.diag[a][0] -= c * f.node_next[j][0];
      next.diag[a][1] -= c * f.node_next[j][1];
      for (std::size_t b = 0; b < nb; ++b) {
        next.edge[a * nb + b] -= c * row[b];
      }
    }
    for (std::size_t a = 0; a < nb; ++a) {
      const double c = row[a];
      border_rhs_[a] -= c * f.node_rhs[j];
      double* out = &border_[a * nb];
      for (std::size_t b = 0; b < nb; ++b) {
        out[b] -= c * row[b];
      }
    }
  }
  return true;
}

void System::border_to_matrix(std::size_t phase) {
  const std::size_t nb = border_size(phase);
  const std::size_t leg = leg_of_[phase];
  border_[4 * nb + 4] += own_[phase].second;
  border_rhs_[4] += own_[phase].rhs;
  if (phase == 0 || leg_of_[phase - 1] != leg) {  // once a leg
    border_rhs_[5] += pull_rhs_[leg][0];
    border_rhs_[6] += pull_rhs_[leg][1];
    for (std::size_t j = 0; j < bounds_[leg].size(); ++j) {
      border_[(7 + j) * nb + 7 + j] += bound_terms_[leg][j].diagonal;
      border_rhs_[7 + j] += bound_terms_[leg][j].rhs;
    }
  }
  for (std::size_t a = 0; a < nb; ++a) {
    const std::ptrdiff_t i = place(phase, a);
    if (i < 0) {
      continue;
    }
    solution_[static_cast<std::size_t>(i)] += border_rhs_[a];
    for (std::size_t b = 0; b < nb; ++b) {
      const std::ptrdiff_t j = place(phase, b);
      if (j >= 0) {
        matrix_[static_cast<std::size_t>(i) * size_ + static_cast<std::size_t>(j)] += border_[a * nb + b];
      }
    }
  }
}

bool System::eliminate_phase(std::size_t phase, double shift) {
  const std::size_t nb = border_size(phase);
  border_.assign(nb * nb, 0.0);
  border_rhs_.assign(nb, 0.0);
  node_.clear(nb);
  for (std::size_t k = 0; k < count_; ++k) {
    Kept block;
    if (!eliminate_inner(intervals_[phase * count_ + k], shift, factors_[phase * count_ + k], block)) {
      return false;
    }
    next_.clear(nb);
    duration_and_pull_to_border(phase, k, block);
    add_start(phase, k, block, shift, node_, next_);
    add_end(phase, k, block, next_);
    if (k > 0 && !eliminate_node(phase, k, node_, next_)) {
      return false;
    }
    std::swap(node_, next_);
  }
  border_to_matrix(phase);
  return true;
}

bool System::solve(double shift) {
  std::fill(matrix_.begin(), matrix_.end(), 0.0);
  std::fill(solution_.begin(), solution_.end(), 0.0);
  for (std::size_t p = 0; p < phases_; ++p) {
    if (!eliminate_phase(p, shift)) {
      return false;
    }
  }
  for (std::size_t i = 0; i < pull_at_; ++i) {
    matrix_[i * size_ + i] += shift;
  }
  if (symmetric::solve(matrix_, solution_) != static_cast<int>(multipliers_)) {
    return false;
  }
  for (std::size_t p = 0; p < phases_; ++p) {
    recover_phase(p);
  }
  return true;
}

void System::recover_phase(std::size_t phase) {
  const std::size_t nb = border_size(phase);
  const std::size_t leg = leg_of_[phase];
  border_rhs_.assign(nb, 0.0);
  for (std::size_t a = 0; a < nb; ++a) {
    const std::ptrdiff_t i = place(phase, a);
    border_rhs_[a] = i < 0 ? 0.0 : solution_[static_cast<std::size_t>(i)];
  }
  const double* x = border_rhs_.data();
  double right[2] = {x[2], x[3]};
  for (std::size_t k = count_; k-- > 0;) {
    const Factor& f = factors_[phase * count_ + k];
    double left[2] = {x[0], x[1]};
    if (k > 0) {
      for (std::size_t a = 0; a < 2; ++a) {
        double t = f.node_rhs[a];
        if (k + 1 < count_) {
          t -= f.node_next[a][0] * right[0] + f.node_next[a][1] * right[1];
        }
        const double* edge = &edges_[phase][(k * 2 + a) * nb];
        for (std::size_t b = 0; b < nb; ++b) {
          t -= edge[b] * x[b];
        }
        left[a] = t;
      }
      backward(f.node, left);
    }
    double pull[2] = {x[5], x[6]};
    for (std::size_t j = 0; j < bounds_[leg].size(); ++j) {
      if (bounds_[leg][j].ahead_of(phase, k)) {
        pull[0] -= bounds_[leg][j].normal[0] * x[7 + j];
        pull[1] -= bounds_[leg][j].normal[1] * x[7 + j];
      }
    }
    const double q[7] = {left[0], left[1], right[0], right[1], x[4], pull[0], pull[1]};
    double inner[4];
    for (std::size_t a = 0; a < 4; ++a) {
      inner[a] = f.inner_rhs[a];
      for (std::size_t c = 0; c < 7; ++c) {
        inner[a] -= f.inner_kept[a][c] * q[c];
      }
    }
    backward(f.inner, inner);
    steps_[phase * count_ + k] = {left[0],  left[1],  inner[0], inner[1], inner[2], inner[3],
                                  right[0], right[1], x[4],     x[5],     x[6]};
    right[0] = left[0];
    right[1] = left[1];
  }
}

double System::largest(const std::vector<Step>& gradient, const std::vector<double>& duration) const {
  double most = 0.0;
  std::vector<double> shared(pull_at_, 0.0);
  for (std::size_t p = 0; p < phases_; ++p) {
    double sum = duration[p];
    for (std::size_t k = 0; k < count_; ++k) {
      const Step& g = gradient[p * count_ + k];
      sum += g[at_duration];
      for (std::size_t a = 2; a < 6; ++a) {
        most = std::max(most, std::fabs(g[a]));
      }
      if (k + 1 < count_) {
        const Step& next = gradient[p * count_ + k + 1];
        most = std::max({most, std::fabs(g[6] + next[0]), std::fabs(g[7] + next[1])});
      }
    }
    most = std::max(most, std::fabs(sum));
    for (std::size_t a = 0; a < 4; ++a) {
      const std::ptrdiff_t i = place(p, a);
      if (i >= 0) {
        const Step& g = gradient[p * count_ + (a < 2 ? 0 : count_ - 1)];
        shared[static_cast<std::size_t>(i)] += a < 2 ? g[a] : g[4 + a];
      }
    }
  }
  for (const double s : shared) {
    most = std::max(most, std::fabs(s));
  }
  return most;
}

}  // namespace bagsplit::basepath::arrow
