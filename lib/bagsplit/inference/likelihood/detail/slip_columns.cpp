#include "bagsplit/inference/likelihood/detail/slip_columns.hpp"

#include <algorithm>
#include <numeric>

#include "bagsplit/inference/likelihood/detail/small_cholesky.hpp"

namespace bagsplit::inference {

using small::add_scaled;
using small::dot;

namespace {

constexpr double slow_cv = 0.10;  // SD of how much slower a run not in earnest is
constexpr double step = 1e-4;     // of the differences, in log V and log tau

// Times of a run at its marks, from those at the distances.
void times_of_run(const RunPattern& pattern, std::span<const double> times_s, std::vector<double>& t) {
  t.resize(pattern.marks);
  for (std::size_t j = 0; j < pattern.marks; ++j) {
    t[j] = pattern.at_mark(j, times_s);
  }
}

}  // namespace

SlipColumns::SlipColumns(const PlayerData& data, PlayerLikelihood& likelihood)
    : likelihood_(likelihood),
      q_(likelihood.term_count()),
      effort_cv_(data.effort_cv),
      widest_(likelihood.patterns().widest()) {
  const RunPatterns& patterns = likelihood.patterns();
  likelihood_.log_posterior(data.log_top_speed.mean, data.log_time_constant.mean);  // times as usual, for slow runs
  for (std::uint32_t place = 0; place < patterns.places.size(); ++place) {
    const RunData& run = data.runs[patterns.places[place].run];
    std::vector<double>& times = times_of_.emplace_back();
    std::size_t offset = 0;
    const std::size_t marks = patterns.patterns[patterns.places[place].pattern].marks;
    for (std::uint32_t r = run.first_reading; r < run.first_reading + run.reading_count; ++r) {
      for (std::uint32_t j = 0; j < data.readings[r].mark_count; ++j) {
        times.push_back(data.marks[data.readings[r].first_mark + j].time_s);
      }
      add_reading(data, r, place, offset, marks);
      offset += data.readings[r].mark_count;
    }
  }
  at_.resize(patterns.patterns.size());
  residual_.resize(patterns.places.size());
}

void SlipColumns::add_reading(const PlayerData& data, std::uint32_t reading, std::uint32_t place, std::size_t offset,
                              std::size_t marks) {
  const SlipPrior& prior = data.slips;
  const std::uint32_t m = data.readings[reading].mark_count;
  const auto add = [&](SlipKind kind, std::uint32_t mark, double usual_share, std::uint32_t first, std::uint32_t end) {
    const double share = (data.readings[reading].checked ? checked_share : 1.0) * usual_share;
    if (!(share > 0.0)) {
      return;
    }
    SlipColumn& column =
        columns_.emplace_back(SlipColumn{kind, reading, mark, place, share, kind >= SlipKind::lost, {}});
    column.by_mark.assign(marks, 0.0);
    std::fill(column.by_mark.begin() + static_cast<std::ptrdiff_t>(offset + first),
              column.by_mark.begin() + static_cast<std::ptrdiff_t>(offset + end), 1.0);
  };
  if (m == 1) {
    add(SlipKind::time, 0, 1.0 + prior.start_share, 0, 1);
  }
  if (m <= 1) {
    return;
  }
  for (std::uint32_t j = 0; j < m; ++j) {
    add(SlipKind::mark, j, 1.0, j, j + 1);
  }
  add(SlipKind::start, 0, prior.start_share, 0, m);
  for (std::uint32_t j = 1; j + 1 < m; ++j) {
    add(SlipKind::lost, j, prior.lost_share, j, m);
  }
  add(SlipKind::slow, 0, prior.slow_share, 0, m);
  if (prior.slow_share > 0.0) {
    const RunPatterns& patterns = likelihood_.patterns();
    std::vector<double> usual;
    times_of_run(patterns.patterns[patterns.places[place].pattern], likelihood_.at_distances().time_s, usual);
    std::vector<double>& column = columns_.back().by_mark;
    for (std::size_t j = 0; j < marks; ++j) {
      column[j] *= usual[j] * slow_cv / prior.sizes_s[0];
    }
  }
}

const SlipColumns::PatternAt& SlipColumns::pattern_at(std::size_t p) {
  PatternAt& out = at_[p];
  if (out.known) {
    return out;
  }
  const RunPattern& pattern = likelihood_.patterns().patterns[p];
  const std::size_t n = pattern.marks;
  const std::size_t big_r = pattern.readings;
  out.known = true;
  times_of_run(pattern, likelihood_.at_distances().time_s, out.plain_t);
  out.t = out.plain_t;
  out.plain_x = pattern.x;
  pattern.weigh(likelihood_.at_distances(), out.plain_x);
  out.x = out.plain_x;
  out.factor.assign(n * n, 0.0);
  for (std::size_t j = 0; j < n; ++j) {
    double* const row = &out.factor[j * n];
    row[j] = 1.0 / pattern.weight[j];
    add_scaled(row, effort_cv_ * effort_cv_ * out.plain_t[j], out.plain_t.data(), j, n);
    for (std::size_t k = j; k < n; ++k) {
      row[k] += dot(&pattern.b[j * big_r], &pattern.b[k * big_r], big_r);
    }
  }
  small::cholesky(out.factor.data(), n);
  small::forward(out.factor.data(), n, out.t.data());
  small::forward_rows(out.factor.data(), n, out.x.data(), pattern.terms.size());
  return out;
}

const double* SlipColumns::residual_of(std::size_t place, std::span<const double> means) {
  std::vector<double>& e = residual_[place];
  if (e.empty()) {
    const RunPatterns& patterns = likelihood_.patterns();
    const RunPlace& where = patterns.places[place];
    const RunPattern& pattern = patterns.patterns[where.pattern];
    const PatternAt& at = pattern_at(where.pattern);
    const std::size_t qa = pattern.terms.size();
    const double form = where.day == patterns.kept_day ? 1.0 + means[patterns.day_place] : 1.0;
    e = times_of_[place];
    for (std::size_t j = 0; j < pattern.marks; ++j) {
      e[j] -= form * at.plain_t[j];
      for (std::size_t c = 0; c < qa; ++c) {
        e[j] -= at.plain_x[j * qa + c] * means[pattern.terms[c]];
      }
    }
    small::forward(at.factor.data(), pattern.marks, e.data());
  }
  return e.data();
}

double SlipColumns::look(double log_v, double log_tau, std::span<const std::uint32_t> which, std::span<double> means,
                         std::span<double> covariance) {
  const double out = likelihood_.condition(log_v, log_tau, means, covariance);
  look_at(which, means, covariance);
  return out;
}

void SlipColumns::look_at(std::span<const std::uint32_t> which, std::span<const double> means,
                          std::span<const double> covariance) {
  for (PatternAt& at : at_) {
    at.known = false;
  }
  for (std::vector<double>& e : residual_) {
    e.clear();
  }
  const RunPatterns& patterns = likelihood_.patterns();
  which_.assign(which.begin(), which.end());
  h_.assign(which.size(), 0.0);
  ct_.assign(which.size(), 0.0);
  u_.assign(which.size() * q_, 0.0);
  su_.assign(which.size() * q_, 0.0);
  c_.assign(which.size() * widest_, 0.0);
  for (std::size_t a = 0; a < which.size(); ++a) {
    const SlipColumn& column = columns_[which[a]];
    const RunPlace& where = patterns.places[column.place];
    const RunPattern& pattern = patterns.patterns[where.pattern];
    const std::size_t n = pattern.marks;
    const std::size_t qa = pattern.terms.size();
    const double* const e = residual_of(column.place, means);
    const PatternAt& at = pattern_at(where.pattern);
    double* const c = &c_[a * widest_];
    double* const u = u_.data() + a * q_;
    std::copy(column.by_mark.begin(), column.by_mark.end(), c);
    small::forward(at.factor.data(), n, c);
    h_[a] = dot(c, e, n);
    ct_[a] = dot(c, at.t.data(), n);
    for (std::size_t j = 0; j < n; ++j) {
      for (std::size_t k = 0; k < qa; ++k) {
        u[pattern.terms[k]] += c[j] * at.x[j * qa + k];
      }
    }
    if (where.day == patterns.kept_day) {
      u[patterns.day_place] += ct_[a];
    } else if (const double gain = likelihood_.day_gain(where.day); gain > 0.0) {
      const std::span<const double> cross = likelihood_.day_cross(where.day);
      h_[a] -= gain * ct_[a] * (likelihood_.day_rhs(where.day) - dot(cross.data(), means.data(), q_));
      add_scaled(u, -gain * ct_[a], cross.data(), 0, q_);
    }
    for (std::size_t k = 0; k < q_; ++k) {
      if (u[k] != 0.0) {
        add_scaled(su_.data() + a * q_, u[k], covariance.data() + k * q_, 0, q_);
      }
    }
  }
}

double SlipColumns::g(std::size_t a, std::size_t b) const {
  const RunPatterns& patterns = likelihood_.patterns();
  const std::uint32_t place_a = columns_[which_[a]].place;
  const std::uint32_t place_b = columns_[which_[b]].place;
  double out = -dot(u_.data() + a * q_, su_.data() + b * q_, q_);
  if (place_a == place_b) {
    out += dot(&c_[a * widest_], &c_[b * widest_], widest_);
  }
  if (patterns.places[place_a].day == patterns.places[place_b].day) {
    out -= likelihood_.day_gain(patterns.places[place_a].day) * ct_[a] * ct_[b];
  }
  return out;
}

// T + X m of a run at the sprint looked at last.
std::vector<double> SlipColumns::expected(std::size_t p) const {
  const RunPattern& pattern = likelihood_.patterns().patterns[p];
  const std::size_t qa = pattern.terms.size();
  std::vector<double> out;
  times_of_run(pattern, likelihood_.at_distances().time_s, out);
  std::vector<double> x = pattern.x;
  pattern.weigh(likelihood_.at_distances(), x);
  for (std::size_t j = 0; j < pattern.marks; ++j) {
    for (std::size_t c = 0; c < qa; ++c) {
      out[j] += x[j * qa + c] * likelihood_.prior_means()[pattern.terms[c]];
    }
  }
  return out;
}

// Changes of T + X m with log V and with log tau, of each pattern in turn, through the factor of its noise. The
// likelihood stands at the sprint afterwards, all columns looked at.
std::vector<std::vector<double>> SlipColumns::changes(double log_v, double log_tau, std::span<double> means,
                                                      std::span<double> covariance) {
  const std::size_t count = likelihood_.patterns().patterns.size();
  std::vector<std::vector<double>> z(2 * count);
  for (std::size_t axis = 0; axis < 2; ++axis) {
    likelihood_.log_posterior(log_v + (axis == 0 ? step : 0.0), log_tau + (axis == 1 ? step : 0.0));
    for (std::size_t p = 0; p < count; ++p) {
      z[2 * p + axis] = expected(p);
    }
  }
  std::vector<std::uint32_t> all(columns_.size());
  std::iota(all.begin(), all.end(), 0U);
  look(log_v, log_tau, all, means, covariance);
  for (std::size_t p = 0; p < count; ++p) {
    const std::vector<double> here = expected(p);
    for (std::size_t axis = 0; axis < 2; ++axis) {
      std::vector<double>& moving = z[2 * p + axis];
      for (std::size_t j = 0; j < here.size(); ++j) {
        moving[j] = (moving[j] - here[j]) / step;
      }
      small::forward(pattern_at(p).factor.data(), here.size(), moving.data());
    }
  }
  return z;
}

SlipColumns::Slope SlipColumns::slope(double log_v, double log_tau) {
  const RunPatterns& patterns = likelihood_.patterns();
  std::vector<double> means(q_);
  std::vector<double> covariance(q_ * q_);
  const std::vector<std::vector<double>> z = changes(log_v, log_tau, means, covariance);
  Slope out{{{0.0, 0.0}, {0.0, 0.0}}, {0.0, 0.0}, std::vector<double>(2 * columns_.size())};
  std::vector<double> by_day(2 * patterns.days, 0.0);  // T' A^-1 Z of each day
  std::vector<double> u(2 * q_, 0.0);
  for (std::size_t place = 0; place < patterns.places.size(); ++place) {
    const RunPlace& where = patterns.places[place];
    const RunPattern& pattern = patterns.patterns[where.pattern];
    const PatternAt& at = pattern_at(where.pattern);
    const double* const e = residual_of(place, means);
    const std::size_t n = pattern.marks;
    const std::size_t qa = pattern.terms.size();
    for (std::size_t axis = 0; axis < 2; ++axis) {
      const double* const mine = z[2 * where.pattern + axis].data();
      const double with_t = dot(mine, at.t.data(), n);
      by_day[2 * where.day + axis] += with_t;
      out.z_p_e[axis] += dot(mine, e, n);
      for (std::size_t other = 0; other < 2; ++other) {
        out.z_p_z[axis][other] += dot(mine, z[2 * where.pattern + other].data(), n);
      }
      for (std::size_t j = 0; j < n; ++j) {
        for (std::size_t k = 0; k < qa; ++k) {
          u[axis * q_ + pattern.terms[k]] += mine[j] * at.x[j * qa + k];
        }
      }
      if (where.day == patterns.kept_day) {
        u[axis * q_ + patterns.day_place] += with_t;
      }
    }
  }
  take_off_days(means, by_day, u, out);
  for (std::size_t axis = 0; axis < 2; ++axis) {
    std::vector<double> su(q_, 0.0);
    for (std::size_t k = 0; k < q_; ++k) {
      add_scaled(su.data(), u[axis * q_ + k], covariance.data() + k * q_, 0, q_);
    }
    for (std::size_t other = 0; other < 2; ++other) {
      out.z_p_z[other][axis] -= dot(u.data() + other * q_, su.data(), q_);
    }
    for (std::size_t a = 0; a < columns_.size(); ++a) {
      const RunPlace& where = patterns.places[columns_[a].place];
      out.c_p_z[2 * a + axis] =
          dot(&c_[a * widest_], z[2 * where.pattern + axis].data(), patterns.patterns[where.pattern].marks) -
          likelihood_.day_gain(where.day) * ct_[a] * by_day[2 * where.day + axis] -
          dot(u_.data() + a * q_, su.data(), q_);
    }
  }
  return out;
}

// The days integrated out.  @param by_day  T' A^-1 Z of each.   @param u  X' A^-1 Z.
void SlipColumns::take_off_days(std::span<const double> means, std::span<const double> by_day, std::span<double> u,
                                Slope& out) const {
  for (std::size_t day = 0; day < likelihood_.patterns().days; ++day) {
    const double gain = likelihood_.day_gain(day);
    const std::span<const double> cross = likelihood_.day_cross(day);
    const double rest = likelihood_.day_rhs(day) - dot(cross.data(), means.data(), q_);
    for (std::size_t axis = 0; axis < 2 && gain > 0.0; ++axis) {
      out.z_p_e[axis] -= gain * by_day[2 * day + axis] * rest;
      add_scaled(u.data() + axis * q_, -gain * by_day[2 * day + axis], cross.data(), 0, q_);
      for (std::size_t other = 0; other < 2; ++other) {
        out.z_p_z[axis][other] -= gain * by_day[2 * day + axis] * by_day[2 * day + other];
      }
    }
  }
}

}  // namespace bagsplit::inference
