#include "bagsplit/sprint/likelihood.hpp"

#include <algorithm>
#include <bit>
#include <cmath>
#include <limits>
#include <numbers>
#include <stdexcept>

namespace bagsplit::sprint {

namespace {

constexpr std::uint32_t no_index = std::numeric_limits<std::uint32_t>::max();

// Everything that makes two runs exchangeable, as one comparable record.
struct Shape {
  std::vector<double> numbers;
  std::vector<std::uint64_t> words;
  bool operator==(const Shape&) const = default;
};

Shape shape_of(const PlayerData& data, const RunData& run) {
  Shape shape;
  for (std::uint32_t r = 0; r < run.reading_count; ++r) {
    const ReadingData& reading = data.readings[run.first_reading + r];
    shape.numbers.push_back(reading.beam_m);
    shape.numbers.push_back(reading.start_sd_s);
    shape.words.push_back(reading.signal ? 1U : 0U);
    shape.words.push_back(reading.mark_count);
    for (std::uint32_t j = 0; j < reading.mark_count; ++j) {
      const MarkData& mark = data.marks[reading.first_mark + j];
      shape.numbers.push_back(mark.distance_m);
      shape.numbers.push_back(mark.sd_s);
      shape.words.push_back(mark.terms);
    }
  }
  return shape;
}

// Small matrices, row-major n x n. Factors are upper triangular (A = U' U) and every inner loop runs along a row, so
// that it vectorises without changing the order of a sum.

// y[from..n) += a x[from..n).
void add_scaled(double* y, double a, const double* x, std::size_t from, std::size_t n) {
  for (std::size_t i = from; i < n; ++i) {
    y[i] += a * x[i];
  }
}

// Upper Cholesky factor in place; only the upper half is read. The matrices here are I plus a positive semidefinite
// one.
void cholesky(double* a, std::size_t n) {
  for (std::size_t j = 0; j < n; ++j) {
    double* const row = a + j * n;
    const double root = std::sqrt(row[j]);
    const double inverse = 1.0 / root;
    row[j] = root;
    for (std::size_t i = j + 1; i < n; ++i) {
      row[i] *= inverse;
    }
    for (std::size_t i = j + 1; i < n; ++i) {
      add_scaled(a + i * n, -row[i], row, i, n);
    }
  }
}

// x := U'^-1 x.
void forward(const double* u, std::size_t n, double* x) {
  for (std::size_t i = 0; i < n; ++i) {
    x[i] /= u[i * n + i];
    add_scaled(x, -x[i], u + i * n, i + 1, n);
  }
}

// X := U'^-1 X, X of n rows with so many columns, row-major.
void forward_rows(const double* u, std::size_t n, double* x, std::size_t columns) {
  for (std::size_t i = 0; i < n; ++i) {
    double* const row = x + i * columns;
    const double inverse = 1.0 / u[i * n + i];
    for (std::size_t c = 0; c < columns; ++c) {
      row[c] *= inverse;
    }
    for (std::size_t r = i + 1; r < n; ++r) {
      add_scaled(x + r * columns, -u[i * n + r], row, 0, columns);
    }
  }
}

// Replaces a positive definite matrix by its inverse.  @return the log of its determinant.
double invert(std::vector<double>& a, std::size_t n) {
  std::vector<double> factor = a;
  cholesky(factor.data(), n);
  std::fill(a.begin(), a.end(), 0.0);
  double log_det = 0.0;
  for (std::size_t i = 0; i < n; ++i) {
    a[i * n + i] = 1.0;
    log_det += 2.0 * std::log(factor[i * n + i]);
  }
  if (!std::isfinite(log_det)) {
    throw std::domain_error("player data: term_correlation is not positive definite");
  }
  forward_rows(factor.data(), n, a.data(), n);
  // a = U'^-1; the inverse is a' a.
  std::vector<double> inverse(n * n, 0.0);
  for (std::size_t i = 0; i < n; ++i) {
    for (std::size_t r = 0; r < n; ++r) {
      add_scaled(&inverse[r * n], a[i * n + r], &a[i * n], 0, n);
    }
  }
  a = std::move(inverse);
  return log_det;
}

double dot(const double* a, const double* b, std::size_t n) {
  double s = 0.0;
  for (std::size_t i = 0; i < n; ++i) {
    s += a[i] * b[i];
  }
  return s;
}

}  // namespace

PlayerLikelihood::PlayerLikelihood(const PlayerData& data, TermMeans term_means)
    : prior_log_v_(data.log_top_speed),
      prior_log_tau_(data.log_time_constant),
      effort_cv_(data.effort_cv),
      day_cv_(data.day_cv),
      term_means_(std::move(term_means)),
      terms_(data.terms),
      log_correlation_(data.log_correlation) {
  validate(data);

  std::uint64_t used = 0;
  for (const RunData& run : data.runs) {
    for (std::uint32_t r = 0; r < run.reading_count; ++r) {
      const ReadingData& reading = data.readings[run.first_reading + r];
      for (std::uint32_t j = 0; j < reading.mark_count; ++j) {
        used |= data.marks[reading.first_mark + j].terms;
      }
    }
  }
  if (data.day_term) {
    for (const RunData& run : data.runs) {
      used |= run.day == data.day_term_day ? std::uint64_t{1} << *data.day_term : 0;
    }
  }
  for (std::uint32_t k = 0; k < terms_.size(); ++k) {
    if ((used >> k) & 1U) {
      active_.push_back(k);
    }
  }
  const auto position_of = [&](std::uint32_t term) {
    return static_cast<std::uint32_t>(std::lower_bound(active_.begin(), active_.end(), term) - active_.begin());
  };
  const auto distance_index = [&](double distance) {
    const auto it = std::find(distances_.begin(), distances_.end(), distance);
    if (it != distances_.end()) {
      return static_cast<std::uint32_t>(it - distances_.begin());
    }
    distances_.push_back(distance);
    return static_cast<std::uint32_t>(distances_.size() - 1);
  };

  std::vector<Shape> shapes;
  std::vector<std::uint32_t> days;
  std::vector<std::vector<std::vector<double>>> group_rows;
  for (const RunData& run : data.runs) {
    Shape shape = shape_of(data, run);
    if (shape.words.size() == 2 * run.reading_count) {
      continue;  // no mark timed
    }
    const auto known = std::find(shapes.begin(), shapes.end(), shape);
    const auto p = static_cast<std::size_t>(known - shapes.begin());
    if (known == shapes.end()) {
      Pattern pattern;
      pattern.readings = run.reading_count;
      std::uint64_t pattern_terms = 0;
      std::vector<double> effects(pattern.readings * pattern.readings, 0.0);
      for (std::uint32_t r = 0; r < run.reading_count; ++r) {
        const ReadingData& reading = data.readings[run.first_reading + r];
        for (std::uint32_t s = 0; s < run.reading_count; ++s) {
          const ReadingData& other = data.readings[run.first_reading + s];
          effects[r * pattern.readings + s] =
              (r == s ? reading.start_sd_s * reading.start_sd_s : 0.0) +
              (reading.signal && other.signal ? data.reaction_sd_s * data.reaction_sd_s : 0.0);
        }
        pattern.marks += reading.mark_count;
        for (std::uint32_t j = 0; j < reading.mark_count; ++j) {
          pattern_terms |= data.marks[reading.first_mark + j].terms;
        }
      }
      for (std::uint64_t bits = pattern_terms; bits != 0; bits &= bits - 1) {
        pattern.terms.push_back(position_of(static_cast<std::uint32_t>(std::countr_zero(bits))));
      }
      // Square root of the reading effects by an LDL-like sweep that accepts zero variances.
      const std::size_t big_r = pattern.readings;
      std::vector<double> root(big_r * big_r, 0.0);
      for (std::size_t j = 0; j < big_r; ++j) {
        double d = effects[j * big_r + j] - dot(&root[j * big_r], &root[j * big_r], j);
        d = d > 1e-14 * (effects[j * big_r + j] + 1e-300) ? std::sqrt(d) : 0.0;
        root[j * big_r + j] = d;
        for (std::size_t i = j + 1; i < big_r && d > 0.0; ++i) {
          root[i * big_r + j] = (effects[i * big_r + j] - dot(&root[i * big_r], &root[j * big_r], j)) / d;
        }
      }
      const std::size_t qa = pattern.terms.size();
      for (std::uint32_t r = 0; r < run.reading_count; ++r) {
        const ReadingData& reading = data.readings[run.first_reading + r];
        for (std::uint32_t j = 0; j < reading.mark_count; ++j) {
          const MarkData& mark = data.marks[reading.first_mark + j];
          const bool moving = reading.beam_m > 0.0 && mark.distance_m > 0.0;
          pattern.time_index.push_back(distance_index(moving ? mark.distance_m + reading.beam_m : mark.distance_m));
          pattern.beam_index.push_back(moving ? distance_index(reading.beam_m) : no_index);
          pattern.weight.push_back(1.0 / (mark.sd_s * mark.sd_s));
          pattern.log_det_d += 2.0 * std::log(mark.sd_s);
          for (std::size_t c = 0; c < qa; ++c) {
            pattern.x.push_back(static_cast<double>((mark.terms >> active_[pattern.terms[c]]) & 1U));
          }
          for (std::size_t c = 0; c < big_r; ++c) {
            pattern.b.push_back(root[r * big_r + c]);
          }
        }
      }
      const std::size_t n = pattern.marks;
      const auto weighted = [&](const std::vector<double>& left, std::size_t rows, const std::vector<double>& right,
                                std::size_t columns) {
        std::vector<double> product(rows * columns, 0.0);
        for (std::size_t j = 0; j < n; ++j) {
          for (std::size_t r = 0; r < rows; ++r) {
            for (std::size_t c = 0; c < columns; ++c) {
              product[r * columns + c] += left[j * rows + r] * pattern.weight[j] * right[j * columns + c];
            }
          }
        }
        return product;
      };
      pattern.x_w_x = weighted(pattern.x, qa, pattern.x, qa);
      pattern.b_w_x = weighted(pattern.b, big_r, pattern.x, qa);
      pattern.b_w_b = weighted(pattern.b, big_r, pattern.b, big_r);
      shapes.push_back(std::move(shape));
      patterns_.push_back(std::move(pattern));
      group_rows.emplace_back();
    }
    Pattern& pattern = patterns_[p];
    const auto day_known = std::find(days.begin(), days.end(), run.day);
    const auto day = static_cast<std::uint32_t>(day_known - days.begin());
    if (day_known == days.end()) {
      days.push_back(run.day);
    }
    auto group =
        std::find_if(pattern.groups.begin(), pattern.groups.end(), [&](const Group& g) { return g.day == day; });
    if (group == pattern.groups.end()) {
      pattern.groups.emplace_back();
      group = std::prev(pattern.groups.end());
      group->day = day;
      group->mean.assign(pattern.marks, 0.0);
      group_rows[p].emplace_back();
    }
    std::vector<double>& rows = group_rows[p][static_cast<std::size_t>(group - pattern.groups.begin())];
    std::size_t j = 0;
    for (std::uint32_t r = 0; r < run.reading_count; ++r) {
      const ReadingData& reading = data.readings[run.first_reading + r];
      for (std::uint32_t k = 0; k < reading.mark_count; ++k, ++j) {
        const double time = data.marks[reading.first_mark + k].time_s;
        group->mean[j] += time;
        rows.push_back(time);
      }
    }
    group->n += 1.0;
    pattern.runs += 1.0;
    mark_count_ += pattern.marks;
  }
  days_ = days.size();
  kept_day_ = static_cast<std::uint32_t>(days_);
  if (data.day_term && ((used >> *data.day_term) & 1U)) {
    kept_day_ = static_cast<std::uint32_t>(std::find(days.begin(), days.end(), data.day_term_day) - days.begin());
    day_place_ = position_of(*data.day_term);
  }

  for (std::size_t p = 0; p < patterns_.size(); ++p) {
    Pattern& pattern = patterns_[p];
    const std::size_t n = pattern.marks;
    const std::size_t qa = pattern.terms.size();
    const std::size_t big_r = pattern.readings;
    const bool repeated = pattern.runs > static_cast<double>(pattern.groups.size());
    if (repeated) {
      pattern.scatter.assign(n * n, 0.0);
    }
    std::vector<double> residual(n);
    for (std::size_t g = 0; g < pattern.groups.size(); ++g) {
      Group& group = pattern.groups[g];
      for (double& value : group.mean) {
        value /= group.n;
      }
      const std::vector<double>& rows = group_rows[p][g];
      for (std::size_t i = 0; i + n <= rows.size() && group.n > 1.0; i += n) {
        for (std::size_t j = 0; j < n; ++j) {
          residual[j] = (rows[i + j] - group.mean[j]) * pattern.weight[j];
        }
        for (std::size_t j = 0; j < n; ++j) {
          pattern.scatter_trace += residual[j] * residual[j] / pattern.weight[j];
          for (std::size_t k = 0; k < n; ++k) {
            pattern.scatter[j * n + k] += residual[j] * residual[k];
          }
        }
      }
      group.x_w_y.assign(qa, 0.0);
      group.b_w_y.assign(big_r, 0.0);
      for (std::size_t j = 0; j < n; ++j) {
        const double wy = pattern.weight[j] * group.mean[j];
        group.y_w_y += wy * group.mean[j];
        for (std::size_t c = 0; c < qa; ++c) {
          group.x_w_y[c] += pattern.x[j * qa + c] * wy;
        }
        for (std::size_t c = 0; c < big_r; ++c) {
          group.b_w_y[c] += pattern.b[j * big_r + c] * wy;
        }
      }
    }
    if (repeated) {
      pattern.scatter_b.assign(n * big_r, 0.0);
      pattern.b_scatter_b.assign(big_r * big_r, 0.0);
      for (std::size_t j = 0; j < n; ++j) {
        for (std::size_t k = 0; k < n; ++k) {
          for (std::size_t c = 0; c < big_r; ++c) {
            pattern.scatter_b[j * big_r + c] += pattern.scatter[j * n + k] * pattern.b[k * big_r + c];
          }
        }
      }
      for (std::size_t j = 0; j < n; ++j) {
        for (std::size_t r = 0; r < big_r; ++r) {
          for (std::size_t c = 0; c < big_r; ++c) {
            pattern.b_scatter_b[r * big_r + c] += pattern.b[j * big_r + r] * pattern.scatter_b[j * big_r + c];
          }
        }
      }
    }
  }

  const std::size_t q = active_.size();
  std::size_t widest = 0;
  std::size_t most_readings = 0;
  for (const Pattern& pattern : patterns_) {
    widest = std::max(widest, pattern.marks);
    most_readings = std::max(most_readings, pattern.readings);
  }
  times_.resize(distances_.size());
  all_means_.resize(terms_.size());
  prior_mean_.resize(q);
  t_.resize(widest);
  w_t_.resize(widest);
  xt_.resize(q);
  m_.resize((most_readings + 1) * (most_readings + 1));
  q_.resize((most_readings + 1) * (most_readings + 1));
  xs_.resize((most_readings + 1) * std::max<std::size_t>(q, 1));
  ts_.resize(most_readings + 1);
  ys_.resize(most_readings + 1);
  precision_.resize(q * q);
  factor_.resize(q * q);
  rhs_.resize(q);
  line_.resize(std::max(q, most_readings + 1));
  for (const std::uint32_t term : active_) {
    active_sd_.push_back(terms_[term].sd);
    if (!data.term_slopes.empty()) {
      slopes_.push_back(data.term_slopes[2 * term]);
      slopes_.push_back(data.term_slopes[2 * term + 1]);
    }
  }
  if (!data.term_correlation.empty()) {
    inverse_correlation_.resize(q * q);
    for (std::size_t r = 0; r < q; ++r) {
      for (std::size_t c = 0; c < q; ++c) {
        inverse_correlation_[r * q + c] = data.term_correlation[active_[r] * terms_.size() + active_[c]];
      }
    }
    log_det_correlation_ = invert(inverse_correlation_, q);
  }
  day_cross_.resize(days_ * q);
  day_column_.resize(q);
  day_precision_.resize(days_);
  day_rhs_.resize(days_);
}

void PlayerLikelihood::add_pattern(const Pattern& pattern) {
  const std::size_t n = pattern.marks;
  const std::size_t qa = pattern.terms.size();
  const std::size_t big_r = pattern.readings;
  const std::size_t k = big_r + 1;
  const std::size_t q = active_.size();

  double t_w_t = 0.0;
  std::fill_n(xt_.begin(), qa, 0.0);
  std::fill_n(ts_.begin(), k, 0.0);
  for (std::size_t j = 0; j < n; ++j) {
    double t = times_[pattern.time_index[j]];
    if (pattern.beam_index[j] != no_index) {
      t -= times_[pattern.beam_index[j]];
    }
    const double wt = pattern.weight[j] * t;
    t_[j] = t;
    w_t_[j] = wt;
    t_w_t += wt * t;
    for (std::size_t c = 0; c < qa; ++c) {
      xt_[c] += pattern.x[j * qa + c] * wt;
    }
    for (std::size_t c = 0; c < big_r; ++c) {
      ts_[c + 1] += pattern.b[j * big_r + c] * wt;
    }
  }
  // M = I + U' D^-1 U with U = [cv T, B].
  m_[0] = 1.0 + effort_cv_ * effort_cv_ * t_w_t;
  for (std::size_t r = 0; r < big_r; ++r) {
    m_[(r + 1) * k] = m_[r + 1] = effort_cv_ * ts_[r + 1];
    for (std::size_t c = 0; c < big_r; ++c) {
      m_[(r + 1) * k + c + 1] = (r == c ? 1.0 : 0.0) + pattern.b_w_b[r * big_r + c];
    }
  }
  cholesky(m_.data(), k);
  double diagonal = 1.0;
  for (std::size_t i = 0; i < k; ++i) {
    diagonal *= m_[i * k + i];
  }
  log_det_ += pattern.runs * (pattern.log_det_d + 2.0 * std::log(diagonal));

  // Rows of U' D^-1 X (k x qa) and U' D^-1 T, taken through the factor; then inner products under A^-1 are plain
  // differences.
  for (std::size_t c = 0; c < qa; ++c) {
    xs_[c] = effort_cv_ * xt_[c];
  }
  std::copy(pattern.b_w_x.begin(), pattern.b_w_x.end(), xs_.begin() + static_cast<std::ptrdiff_t>(qa));
  forward_rows(m_.data(), k, xs_.data(), qa);
  ts_[0] = effort_cv_ * t_w_t;
  forward(m_.data(), k, ts_.data());
  const double t_a_t = t_w_t - dot(ts_.data(), ts_.data(), k);
  for (std::size_t i = 0; i < k; ++i) {
    add_scaled(xt_.data(), -ts_[i], &xs_[i * qa], 0, qa);  // X' A^-1 T
  }

  for (std::size_t r = 0; r < qa; ++r) {
    std::copy_n(pattern.x_w_x.begin() + static_cast<std::ptrdiff_t>(r * qa), qa, line_.begin());
    for (std::size_t i = 0; i < k; ++i) {
      add_scaled(line_.data(), -xs_[i * qa + r], &xs_[i * qa], r, qa);
    }
    double* const row = &precision_[pattern.terms[r] * q];
    for (std::size_t c = r; c < qa; ++c) {
      row[pattern.terms[c]] += pattern.runs * line_[c];
    }
  }

  for (const Group& group : pattern.groups) {
    const double t_w_y = dot(w_t_.data(), group.mean.data(), n);
    ys_[0] = effort_cv_ * t_w_y;
    for (std::size_t r = 0; r < big_r; ++r) {
      ys_[r + 1] = group.b_w_y[r];
    }
    forward(m_.data(), k, ys_.data());
    const double t_a_y = t_w_y - dot(ts_.data(), ys_.data(), k);
    quadratic_ += group.n * (group.y_w_y - dot(ys_.data(), ys_.data(), k) - 2.0 * t_a_y + t_a_t);
    // The day term's column of the precision, or the cross products of a day that is integrated out.
    const bool kept = group.day == kept_day_;
    double* const cross = kept ? day_column_.data() : day_cross_.data() + group.day * q;  // empty without linear terms
    for (std::size_t c = 0; c < qa; ++c) {
      line_[c] = group.x_w_y[c] - xt_[c];
    }
    for (std::size_t i = 0; i < k; ++i) {
      add_scaled(line_.data(), -ys_[i], &xs_[i * qa], 0, qa);
    }
    for (std::size_t c = 0; c < qa; ++c) {
      rhs_[pattern.terms[c]] += group.n * line_[c];
      cross[pattern.terms[c]] += group.n * xt_[c];
    }
    (kept ? precision_[day_place_ * q + day_place_] : day_precision_[group.day]) += group.n * t_a_t;
    (kept ? rhs_[day_place_] : day_rhs_[group.day]) += group.n * (t_a_y - t_a_t);
  }

  if (!pattern.scatter.empty()) {
    // tr(A^-1 W) = tr(D^-1 W) - tr(M^-1 U' V U), V = D^-1 W D^-1.
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
    forward_rows(m_.data(), k, q_.data(), k);
    for (std::size_t r = 1; r < k; ++r) {
      for (std::size_t c = 0; c < r; ++c) {
        std::swap(q_[r * k + c], q_[c * k + r]);
      }
    }
    forward_rows(m_.data(), k, q_.data(), k);
    double trace = 0.0;
    for (std::size_t r = 0; r < k; ++r) {
      trace += q_[r * k + r];
    }
    quadratic_ += pattern.scatter_trace - trace;
  }
}

void PlayerLikelihood::evaluate(double log_top_speed, double log_time_constant) {
  const std::size_t q = active_.size();
  const motion::Sprint sprint{std::exp(log_top_speed), std::exp(log_time_constant)};
  const double scale = 1.0 / (sprint.top_speed_mps * sprint.time_constant_s);
  for (std::size_t i = 0; i < distances_.size(); ++i) {
    times_[i] = sprint.time_constant_s * motion::dimensionless_time(distances_[i] * scale);
  }
  if (term_means_) {
    for (std::size_t i = 0; i < terms_.size(); ++i) {
      all_means_[i] = terms_[i].mean;
    }
    term_means_(sprint, all_means_);
    for (std::size_t i = 0; i < q; ++i) {
      prior_mean_[i] = all_means_[active_[i]];
    }
  } else {
    for (std::size_t i = 0; i < q; ++i) {
      prior_mean_[i] = terms_[active_[i]].mean;
    }
  }

  quadratic_ = 0.0;
  log_det_ = 0.0;
  std::fill(precision_.begin(), precision_.end(), 0.0);
  std::fill(rhs_.begin(), rhs_.end(), 0.0);
  std::fill(day_cross_.begin(), day_cross_.end(), 0.0);
  std::fill(day_column_.begin(), day_column_.end(), 0.0);
  std::fill(day_precision_.begin(), day_precision_.end(), 0.0);
  std::fill(day_rhs_.begin(), day_rhs_.end(), 0.0);
  for (const Pattern& pattern : patterns_) {
    add_pattern(pattern);
  }

  if (kept_day_ < days_) {
    for (std::size_t r = 0; r < q; ++r) {
      precision_[std::min<std::size_t>(r, day_place_) * q + std::max<std::size_t>(r, day_place_)] += day_column_[r];
    }
  }
  for (std::size_t r = 0; r < slopes_.size() / 2; ++r) {
    prior_mean_[r] += slopes_[2 * r] * (log_top_speed - prior_log_v_.mean) +
                      slopes_[2 * r + 1] * (log_time_constant - prior_log_tau_.mean);
  }
  // Take off the prior means: residuals become y - T - X m.
  for (std::size_t r = 0; r < q; ++r) {
    for (std::size_t c = 0; c < r; ++c) {
      precision_[r * q + c] = precision_[c * q + r];
    }
  }
  std::fill(line_.begin(), line_.end(), 0.0);
  for (std::size_t r = 0; r < q; ++r) {
    add_scaled(line_.data(), prior_mean_[r], &precision_[r * q], 0, q);
  }
  for (std::size_t r = 0; r < q; ++r) {
    quadratic_ += prior_mean_[r] * (line_[r] - 2.0 * rhs_[r]);
    rhs_[r] -= line_[r];
  }
  const double day_variance = day_cv_ * day_cv_;
  for (std::size_t d = 0; d < days_ && day_variance > 0.0; ++d) {
    const double* const cross = day_cross_.data() + d * q;
    const double e = day_rhs_[d] - dot(cross, prior_mean_.data(), q);
    const double pivot = 1.0 + day_variance * day_precision_[d];
    const double gain = day_variance / pivot;
    log_det_ += std::log(pivot);
    quadratic_ -= gain * e * e;
    add_scaled(rhs_.data(), -gain * e, cross, 0, q);
    for (std::size_t r = 0; r < q; ++r) {
      if (cross[r] != 0.0) {
        add_scaled(&precision_[r * q], -gain * cross[r], cross, r, q);
      }
    }
  }
  // I + S^1/2 P S^1/2, so that a prior sd of 0 fixes a term and a wide one does no harm.
  for (std::size_t r = 0; r < q; ++r) {
    rhs_[r] *= active_sd_[r];
    for (std::size_t c = r; c < q; ++c) {
      factor_[r * q + c] = active_sd_[r] * active_sd_[c] * precision_[r * q + c];
    }
    if (inverse_correlation_.empty()) {
      factor_[r * q + r] += 1.0;
    } else {
      add_scaled(&factor_[r * q], 1.0, &inverse_correlation_[r * q], r, q);
    }
  }
  log_det_ += log_det_correlation_;
  cholesky(factor_.data(), q);
  forward(factor_.data(), q, rhs_.data());
  double diagonal = 1.0;
  for (std::size_t i = 0; i < q; ++i) {
    diagonal *= factor_[i * q + i];
    if ((i & 7U) == 7U) {
      log_det_ += 2.0 * std::log(diagonal);
      diagonal = 1.0;
    }
  }
  log_det_ += 2.0 * std::log(diagonal);
  quadratic_ -= dot(rhs_.data(), rhs_.data(), q);

  log_posterior_ = -0.5 * (quadratic_ + log_det_ + static_cast<double>(mark_count_) * std::log(2.0 * std::numbers::pi));
  const auto add_prior = [&](const Normal& prior, double at) {
    if (prior.sd > 0.0) {
      const double z = (at - prior.mean) / prior.sd;
      log_posterior_ -= 0.5 * z * z + std::log(prior.sd * std::sqrt(2.0 * std::numbers::pi));
    }
  };
  add_prior(prior_log_v_, log_top_speed);
  if (log_correlation_ == 0.0 || !(prior_log_v_.sd > 0.0)) {
    add_prior(prior_log_tau_, log_time_constant);
  } else {  // log tau given log V
    const double z = (log_top_speed - prior_log_v_.mean) / prior_log_v_.sd;
    add_prior({prior_log_tau_.mean + log_correlation_ * prior_log_tau_.sd * z,
               prior_log_tau_.sd * std::sqrt(1.0 - log_correlation_ * log_correlation_)},
              log_time_constant);
  }
}

double PlayerLikelihood::log_posterior(double log_top_speed, double log_time_constant) {
  evaluate(log_top_speed, log_time_constant);
  return log_posterior_;
}

double PlayerLikelihood::condition(double log_top_speed, double log_time_constant, std::span<double> means,
                                   std::span<double> covariance) {
  evaluate(log_top_speed, log_time_constant);
  const std::size_t q = active_.size();
  // With L = U': rows of L^-1, then mean = m + S^1/2 L^-T y and covariance = S^1/2 L^-T L^-1 S^1/2.
  std::vector<double>& inverse = precision_;
  std::fill(inverse.begin(), inverse.end(), 0.0);
  for (std::size_t i = 0; i < q; ++i) {
    inverse[i * q + i] = 1.0;
  }
  for (std::size_t i = 0; i < q; ++i) {
    double* const row = &inverse[i * q];
    const double pivot = 1.0 / factor_[i * q + i];
    for (std::size_t c = 0; c <= i; ++c) {
      row[c] *= pivot;
    }
    for (std::size_t r = i + 1; r < q; ++r) {
      add_scaled(&inverse[r * q], -factor_[i * q + r], row, 0, i + 1);
    }
  }
  std::fill(line_.begin(), line_.end(), 0.0);
  std::fill(covariance.begin(), covariance.end(), 0.0);
  for (std::size_t i = 0; i < q; ++i) {
    const double* const row = &inverse[i * q];
    add_scaled(line_.data(), rhs_[i], row, 0, i + 1);
    for (std::size_t r = 0; r <= i; ++r) {
      add_scaled(&covariance[r * q], row[r], row, 0, r + 1);
    }
  }
  for (std::size_t r = 0; r < q; ++r) {
    means[r] = prior_mean_[r] + active_sd_[r] * line_[r];
    for (std::size_t c = 0; c <= r; ++c) {
      covariance[r * q + c] *= active_sd_[r] * active_sd_[c];
      covariance[c * q + r] = covariance[r * q + c];
    }
  }
  return log_posterior_;
}

}  // namespace bagsplit::sprint
