#include "bagsplit/inference/likelihood/detail/linear_sums.hpp"

#include <algorithm>
#include <cmath>
#include <utility>

#include "bagsplit/inference/likelihood/detail/small_cholesky.hpp"

namespace bagsplit::inference {

using small::add_scaled;
using small::dot;

LinearSums::LinearSums(std::size_t terms, std::size_t days)
    : precision(terms * terms),
      rhs(terms),
      day_cross(days * terms),
      day_column(terms),
      day_precision(days),
      day_rhs(days) {}

void LinearSums::clear() {
  quadratic = 0.0;
  log_det = 0.0;
  for (std::vector<double>* const part : {&precision, &rhs, &day_cross, &day_column, &day_precision, &day_rhs}) {
    std::fill(part->begin(), part->end(), 0.0);
  }
}

PatternAdder::PatternAdder(const RunPatterns& all, double effort_cv) : all_(all), effort_cv_(effort_cv) {
  const std::size_t q = all.active.size();
  const std::size_t k = all.most_readings() + 1;
  t_.resize(all.widest());
  w_t_.resize(all.widest());
  xt_.resize(q);
  m_.resize(k * k);
  q_.resize(k * k);
  xs_.resize(k * std::max<std::size_t>(q, 1));
  ts_.resize(k);
  ys_.resize(k);
  line_.resize(std::max(q, k));
  for (const RunPattern& pattern : all.patterns) {
    weighed_.push_back(pattern.weighed.empty() ? Weighed{} : Weighed{pattern.x, pattern.x_w_x, pattern.b_w_x});
  }
}

void PatternAdder::add(const RunPattern& pattern, const SprintTimes& sprint, LinearSums& sums) {
  weigh_columns(pattern, sprint);
  weigh_times(pattern, sprint.time_s);
  factor_noise(pattern);
  add_precision(pattern, sums);
  for (const RunGroup& group : pattern.groups) {
    add_group(pattern, group, sums);
  }
  if (!pattern.scatter.empty()) {
    add_scatter(pattern, sums);
  }
}

void PatternAdder::weigh_columns(const RunPattern& pattern, const SprintTimes& sprint) {
  x_ = pattern.x.data();
  x_w_x_ = pattern.x_w_x.data();
  b_w_x_ = pattern.b_w_x.data();
  if (pattern.weighed.empty()) {
    return;
  }
  const std::size_t qa = pattern.terms.size();
  Weighed& own = weighed_[static_cast<std::size_t>(&pattern - all_.patterns.data())];
  pattern.weigh(sprint, own.x);
  for (const WeighedColumn& weighed : pattern.weighed) {
    const std::size_t c = weighed.column;
    std::fill_n(line_.begin(), qa, 0.0);
    for (std::size_t r = 0; r < pattern.readings; ++r) {
      own.b_w_x[r * qa + c] = 0.0;
    }
    for (std::size_t j = 0; j < pattern.marks; ++j) {
      const double at = pattern.weight[j] * own.x[j * qa + c];
      add_scaled(line_.data(), at, &own.x[j * qa], 0, qa);
      for (std::size_t r = 0; r < pattern.readings; ++r) {
        own.b_w_x[r * qa + c] += at * pattern.b[j * pattern.readings + r];
      }
    }
    for (std::size_t other = 0; other < qa; ++other) {
      own.x_w_x[c * qa + other] = own.x_w_x[other * qa + c] = line_[other];
    }
  }
  x_ = own.x.data();
  x_w_x_ = own.x_w_x.data();
  b_w_x_ = own.b_w_x.data();
}

void PatternAdder::weigh_times(const RunPattern& pattern, std::span<const double> times_s) {
  const std::size_t qa = pattern.terms.size();
  const std::size_t big_r = pattern.readings;
  double t_w_t = 0.0;
  std::fill_n(xt_.begin(), qa, 0.0);
  std::fill_n(ts_.begin(), big_r + 1, 0.0);
  for (std::size_t j = 0; j < pattern.marks; ++j) {
    const double t = pattern.at_mark(j, times_s);
    const double wt = pattern.weight[j] * t;
    t_[j] = t;
    w_t_[j] = wt;
    t_w_t += wt * t;
    for (std::size_t c = 0; c < qa; ++c) {
      xt_[c] += x_[j * qa + c] * wt;
    }
    for (std::size_t c = 0; c < big_r; ++c) {
      ts_[c + 1] += pattern.b[j * big_r + c] * wt;
    }
  }
  t_w_t_ = t_w_t;
}

// M = I + U' W U with U = [cv T, B]. Rows of U' W X (k x qa) and U' W T, taken through its factor; then inner products
// under A^-1 are plain differences.
void PatternAdder::factor_noise(const RunPattern& pattern) {
  const std::size_t qa = pattern.terms.size();
  const std::size_t big_r = pattern.readings;
  const std::size_t k = big_r + 1;
  m_[0] = 1.0 + effort_cv_ * effort_cv_ * t_w_t_;
  for (std::size_t r = 0; r < big_r; ++r) {
    m_[(r + 1) * k] = m_[r + 1] = effort_cv_ * ts_[r + 1];
    for (std::size_t c = 0; c < big_r; ++c) {
      m_[(r + 1) * k + c + 1] = (r == c ? 1.0 : 0.0) + pattern.b_w_b[r * big_r + c];
    }
  }
  small::cholesky(m_.data(), k);
  for (std::size_t c = 0; c < qa; ++c) {
    xs_[c] = effort_cv_ * xt_[c];
  }
  std::copy_n(b_w_x_, big_r * qa, xs_.begin() + static_cast<std::ptrdiff_t>(qa));
  small::forward_rows(m_.data(), k, xs_.data(), qa);
  ts_[0] = effort_cv_ * t_w_t_;
  small::forward(m_.data(), k, ts_.data());
  t_a_t_ = t_w_t_ - dot(ts_.data(), ts_.data(), k);
  for (std::size_t i = 0; i < k; ++i) {
    add_scaled(xt_.data(), -ts_[i], xs_.data() + i * qa, 0, qa);
  }
}

void PatternAdder::add_precision(const RunPattern& pattern, LinearSums& sums) {
  const std::size_t qa = pattern.terms.size();
  const std::size_t k = pattern.readings + 1;
  const std::size_t q = all_.active.size();
  double diagonal = 1.0;
  for (std::size_t i = 0; i < k; ++i) {
    diagonal *= m_[i * k + i];
  }
  sums.log_det += pattern.runs * (pattern.log_det_d + 2.0 * std::log(diagonal));
  for (std::size_t r = 0; r < qa; ++r) {
    std::copy_n(x_w_x_ + r * qa, qa, line_.begin());
    for (std::size_t i = 0; i < k; ++i) {
      add_scaled(line_.data(), -xs_[i * qa + r], &xs_[i * qa], r, qa);
    }
    double* const row = &sums.precision[pattern.terms[r] * q];
    for (std::size_t c = r; c < qa; ++c) {
      row[pattern.terms[c]] += pattern.runs * line_[c];
    }
  }
}

void PatternAdder::add_group(const RunPattern& pattern, const RunGroup& group, LinearSums& sums) {
  const std::size_t qa = pattern.terms.size();
  const std::size_t k = pattern.readings + 1;
  const std::size_t q = all_.active.size();
  const double t_w_y = dot(w_t_.data(), group.mean.data(), pattern.marks);
  ys_[0] = effort_cv_ * t_w_y;
  std::copy(group.b_w_y.begin(), group.b_w_y.end(), ys_.begin() + 1);
  small::forward(m_.data(), k, ys_.data());
  const double t_a_y = t_w_y - dot(ts_.data(), ys_.data(), k);
  sums.quadratic += group.n * (group.y_w_y - dot(ys_.data(), ys_.data(), k) - 2.0 * t_a_y + t_a_t_);
  // The day term's column of the precision, or the cross products of a day that is integrated out.
  const bool kept = group.day == all_.kept_day;
  double* const cross = kept ? sums.day_column.data() : sums.day_cross.data() + group.day * q;
  for (std::size_t c = 0; c < qa; ++c) {
    line_[c] = group.x_w_y[c] - xt_[c];
  }
  for (const WeighedColumn& weighed : pattern.weighed) {
    line_[weighed.column] = -xt_[weighed.column];
    for (std::size_t j = 0; j < pattern.marks; ++j) {
      line_[weighed.column] += x_[j * qa + weighed.column] * pattern.weight[j] * group.mean[j];
    }
  }
  for (std::size_t i = 0; i < k; ++i) {
    add_scaled(line_.data(), -ys_[i], xs_.data() + i * qa, 0, qa);
  }
  for (std::size_t c = 0; c < qa; ++c) {
    sums.rhs[pattern.terms[c]] += group.n * line_[c];
    cross[pattern.terms[c]] += group.n * xt_[c];
  }
  const std::size_t day = all_.day_place;
  (kept ? sums.precision[day * q + day] : sums.day_precision[group.day]) += group.n * t_a_t_;
  (kept ? sums.rhs[day] : sums.day_rhs[group.day]) += group.n * (t_a_y - t_a_t_);
}

// tr(A^-1 S) = tr(W S) - tr(M^-1 U' V U), S the scatter within groups, V = W S W.
void PatternAdder::add_scatter(const RunPattern& pattern, LinearSums& sums) {
  const std::size_t n = pattern.marks;
  const std::size_t big_r = pattern.readings;
  const std::size_t k = big_r + 1;
  double t_v_t = 0.0;
  for (std::size_t j = 0; j < n; ++j) {
    t_v_t += t_[j] * dot(&pattern.scatter[j * n], t_.data(), n);
  }
  q_[0] = effort_cv_ * effort_cv_ * t_v_t;
  for (std::size_t c = 0; c < big_r; ++c) {
    double t_v_b = 0.0;
    for (std::size_t j = 0; j < n; ++j) {
      t_v_b += t_[j] * pattern.scatter_b[j * big_r + c];
    }
    q_[c + 1] = q_[(c + 1) * k] = effort_cv_ * t_v_b;
    for (std::size_t r = 0; r < big_r; ++r) {
      q_[(r + 1) * k + c + 1] = pattern.b_scatter_b[r * big_r + c];
    }
  }
  small::forward_rows(m_.data(), k, q_.data(), k);
  for (std::size_t r = 1; r < k; ++r) {
    for (std::size_t c = 0; c < r; ++c) {
      std::swap(q_[r * k + c], q_[c * k + r]);
    }
  }
  small::forward_rows(m_.data(), k, q_.data(), k);
  double trace = 0.0;
  for (std::size_t r = 0; r < k; ++r) {
    trace += q_[r * k + r];
  }
  sums.quadratic += pattern.scatter_trace - trace;
}

}  // namespace bagsplit::inference
