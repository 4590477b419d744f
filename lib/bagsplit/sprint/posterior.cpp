#include "bagsplit/sprint/posterior.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <numbers>
#include <stdexcept>

#include "bagsplit/stats/distributions.hpp"
#include "bagsplit/stats/elementary.hpp"

namespace bagsplit::sprint {

namespace {

using stats::square;

constexpr int lattice_reach = 64;  // nodes to each side of the mode, at most
constexpr int lattice_width = 2 * lattice_reach + 1;

// Where row or column k of the lattice lies, from 0 on.
constexpr std::size_t lattice_place(int k) {
  return static_cast<std::size_t>(k + lattice_reach);  // NOLINT(bugprone-misplaced-widening-cast): at most 128
}
constexpr double log_cut = 8.5;  // the lattice grows from nodes above exp(-8.5) of the maximum, whose neighbours are
                                 // kept too: it leaves out 1e-5
constexpr double coarse_log_cut = 6.0;
constexpr double coarse_spacing = 1.3;
constexpr std::size_t fine_per_cell = 4;  // points between two nodes of a row
constexpr double sd_floor = 1e-6;         // a prior sd of 0 fixes a value: treated as this

// Normal CDF and density by cubic Hermite interpolation of a table: |error| < 4e-9 for the CDF (spacing 1/32, fourth
// derivative below 1.4), which a quantile to 1e-6 of an SD can bear; a tenth of the cost of erfc.
class NormalTable {
 public:
  static const NormalTable& get() {
    static const NormalTable table;
    return table;
  }

  void add(double x, double weight, double& cdf, double& density) const {
    if (x <= -reach) {
      return;
    }
    if (x >= reach) {
      cdf += weight;
      return;
    }
    const double position = (x + reach) * per_unit;
    const auto i = static_cast<std::size_t>(position);
    const double u = position - static_cast<double>(i);
    const double p0 = cdf_[i];
    const double p1 = cdf_[i + 1];
    const double m0 = density_[i] * step;
    const double m1 = density_[i + 1] * step;
    const double c2 = 3.0 * (p1 - p0) - 2.0 * m0 - m1;
    const double c3 = 2.0 * (p0 - p1) + m0 + m1;
    cdf += weight * (p0 + u * (m0 + u * (c2 + u * c3)));
    density += weight * (m0 + u * (2.0 * c2 + u * 3.0 * c3)) * per_unit;
  }

 private:
  static constexpr double reach = 8.5;
  static constexpr double per_unit = 32.0;
  static constexpr double step = 1.0 / per_unit;
  static constexpr std::size_t count = 2 * 272 + 2;

  NormalTable() {
    for (std::size_t i = 0; i < count; ++i) {
      const double x = -reach + static_cast<double>(i) * step;
      cdf_[i] = 0.5 * std::erfc(-x / std::numbers::sqrt2);
      density_[i] = std::exp(-0.5 * x * x) / std::sqrt(2.0 * std::numbers::pi);
    }
  }

  std::array<double, count> cdf_{};
  std::array<double, count> density_{};
};

struct Levels {
  std::array<double, 3> p;
  std::array<double, 3> z;
};

Levels levels_of(double level) {
  if (!(level > 0.0) || !(level < 1.0)) {
    throw std::domain_error("level must lie strictly between 0 and 1");
  }
  // The level is the same for thousands of quantities in a row; remember the last one per thread.
  thread_local double last_level = -1.0;
  thread_local Levels last{};
  if (level != last_level) {
    const double tail = 0.5 * (1.0 - level);
    const double z = -stats::normal_quantile(tail);
    last = {{tail, 0.5, 1.0 - tail}, {-z, 0.0, z}};
    last_level = level;
  }
  return last;
}

// Cornish & Fisher (1938) to the fourth cumulant: only a start for Newton's method.
double cornish_fisher(double z, double skewness, double excess) {
  return z + (z * z - 1.0) * skewness / 6.0 + (z * z - 3.0) * z * excess / 24.0 -
         (2.0 * z * z - 5.0) * z * skewness * skewness / 36.0;
}

// Root of cdf(x) = p, started at x, by Newton's method inside a bracket that grows where it must.
// `evaluate(x, cdf, density)`. Stops within 1e-7 of `scale`.
template <typename Evaluate>
double solve_quantile(Evaluate&& evaluate, double p, double x, double lo, double hi, double scale) {
  for (int i = 0; i < 60; ++i) {
    double cdf = 0.0;
    double density = 0.0;
    evaluate(x, cdf, density);
    (cdf < p ? lo : hi) = x;
    double next = density > 0.0 ? x - (cdf - p) / density : 0.5 * (lo + hi);
    if (!(next > lo && next < hi)) {
      next = 0.5 * (lo + hi);
    }
    const double moved = std::fabs(next - x);
    x = next;
    if (moved < 1e-6 * scale) {  // Newton's error is then far below
      break;
    }
  }
  return x;
}

}  // namespace

std::string_view describe(PosteriorStatus status) {
  switch (status) {
    case PosteriorStatus::converged:
      return "converged";
    case PosteriorStatus::refined:
      return "converged after refining the quadrature";
    case PosteriorStatus::not_certified:
      return "the quadrature did not settle; the estimates are not to be used";
  }
  return "";
}

const PriorRule& prior_rule() {
  static const PriorRule rule = [] {
    PriorRule made{};
    double sum = 0.0;
    constexpr int middle = PriorRule::points / 2;
    for (int i = 0; i < PriorRule::points; ++i) {
      made.z[i] = 1.1 * (i - middle);
      made.weight[i] = std::exp(-0.5 * made.z[i] * made.z[i]);
      sum += made.weight[i];
    }
    for (double& w : made.weight) {
      w /= sum;
    }
    return made;
  }();
  return rule;
}

Posterior::Posterior(const PlayerData& data, const TermMeans& term_means, const PosteriorEffort& effort) : data_(data) {
  data_.log_top_speed.sd = std::max(data_.log_top_speed.sd, sd_floor);
  data_.log_time_constant.sd = std::max(data_.log_time_constant.sd, sd_floor);
  PlayerLikelihood likelihood(data_, term_means);
  active_.assign(likelihood.active_terms().begin(), likelihood.active_terms().end());
  const std::size_t q = active_.size();

  // Lattice coordinates: log tau and log T*, T* the time to a distance d* in the middle of the marks. Readings pin T*
  // far better than V or tau alone, so in (log V, log tau) the posterior bends along a curve of constant T*; here it
  // hardly bends. V = d*/(T - tau (1 - exp(-T/tau))) for every T and tau; d log V / d log T = -T (1 - exp(-T/tau)) / (T
  // - tau (...)).
  const Normal& pv = data_.log_top_speed;
  const Normal& pt = data_.log_time_constant;
  double centre_distance = 0.0;
  double timed = 0.0;
  for (const MarkData& mark : data_.marks) {
    if (mark.distance_m > 0.0) {
      centre_distance += mark.distance_m;
      timed += 1.0;
    }
  }
  centre_distance = timed > 0.0 ? centre_distance / timed : 20.0;
  struct Place {
    double log_v, log_tau, log_jacobian;
  };
  const auto place_of = [&](double log_tau, double log_time) {
    const double tau = std::exp(log_tau);
    const double time = std::exp(log_time);
    const double unit = time / tau;
    const double unit_distance = motion::distance_at_time({1.0, 1.0}, unit);
    return Place{std::log(centre_distance / (tau * unit_distance)), log_tau,
                 std::log(-unit * std::expm1(-unit) / unit_distance)};
  };
  const motion::Sprint prior_sprint{std::exp(pv.mean), std::exp(pt.mean)};
  const double origin_a = pt.mean;
  const double origin_b = std::log(motion::time_to_distance(prior_sprint, centre_distance));
  const double scale_a = pt.sd;
  const double scale_b = std::hypot(
      pv.sd, std::log(motion::time_to_distance(
                 {prior_sprint.top_speed_mps, prior_sprint.time_constant_s * std::exp(pt.sd)}, centre_distance)) -
                 origin_b);
  // Mode, in prior SDs from the prior mean.
  const auto f = [&](double u, double w) {
    const Place place = place_of(origin_a + scale_a * u, origin_b + scale_b * w);
    return likelihood.log_posterior(place.log_v, place.log_tau) + place.log_jacobian;
  };
  double u = 0.0;
  double w = 0.0;
  if (effort.near) {
    u = (std::log(effort.near->time_constant_s) - origin_a) / scale_a;
    w = (std::log(motion::time_to_distance(*effort.near, centre_distance)) - origin_b) / scale_b;
  }
  double su = 0.1;
  double sw = 0.1;
  double n11 = 1.0;
  double n12 = 0.0;
  double n22 = 1.0;
  const auto climb = [&](int iterations) {
    double f0 = f(u, w);
    for (int iteration = 0; iteration < iterations; ++iteration) {
      const double fp = f(u + su, w);
      const double fm = f(u - su, w);
      const double gp = f(u, w + sw);
      const double gm = f(u, w - sw);
      const double fg = f(u + su, w + sw);
      if (!std::isfinite(f0 + fp + fm + gp + gm + fg)) {
        return false;  // too far out to tell which way is up
      }
      const double d1 = (fp - fm) / (2.0 * su);
      const double d2 = (gp - gm) / (2.0 * sw);
      n11 = -(fp - 2.0 * f0 + fm) / (su * su);
      n22 = -(gp - 2.0 * f0 + gm) / (sw * sw);
      n12 = -(fg - fp - gp + f0) / (su * sw);
      // Keep the matrix positive definite: eigenvalues at least 0.1 (the prior alone gives 0.5 or more).
      const double half_trace = 0.5 * (n11 + n22);
      const double radius = std::sqrt(square(0.5 * (n11 - n22)) + n12 * n12);
      const double smallest = half_trace - radius;
      if (!(smallest > 0.1)) {
        const double lift = 0.1 - smallest;
        n11 += lift;
        n22 += lift;
      }
      const double det = n11 * n22 - n12 * n12;
      double step_u = (n22 * d1 - n12 * d2) / det;
      double step_w = (n11 * d2 - n12 * d1) / det;
      const double decrement = d1 * step_u + d2 * step_w;
      su = std::clamp(0.5 * std::sqrt(n22 / det), 1e-5, 0.5);
      sw = std::clamp(0.5 * std::sqrt(n11 / det), 1e-5, 0.5);
      if (!std::isfinite(decrement)) {
        return false;
      }
      if (decrement < 0.02 && iteration > 0) {
        u += step_u;  // within a seventh of a posterior SD: near enough for a centre
        w += step_w;
        return true;
      }
      const double length = std::sqrt(step_u * step_u + step_w * step_w);
      if (length > 3.0) {
        step_u *= 3.0 / length;
        step_w *= 3.0 / length;
      }
      double next = f(u + step_u, w + step_w);
      for (int halving = 0; halving < 20 && !(next > f0 - 1e-9); ++halving) {
        step_u *= 0.5;
        step_w *= 0.5;
        next = f(u + step_u, w + step_w);
      }
      if (!std::isfinite(next) || !std::isfinite(step_u + step_w)) {
        return false;
      }
      u += step_u;
      w += step_w;
      f0 = next;
    }
    return false;
  };
  if (!climb(12)) {
    // Sharp readings under a wide prior: the ridge is too narrow to climb from afar. Close in on it by grids, each a
    // third of the last.
    double reach = 5.0;
    u = w = 0.0;
    for (int zoom = 0; zoom < 9; ++zoom) {
      constexpr int half = 8;
      double best = -std::numeric_limits<double>::infinity();
      const double from_u = u;
      const double from_w = w;
      for (int a = -half; a <= half; ++a) {
        for (int b = -half; b <= half; ++b) {
          const double at_u = from_u + reach * a / half;
          const double at_w = from_w + reach * b / half;
          const double value = f(at_u, at_w);
          if (value > best) {
            best = value;
            u = at_u;
            w = at_w;
          }
        }
      }
      reach /= 3.0;
    }
    su = sw = std::max(reach, 1e-5);
    climb(40);
  }
  const double centre_a = origin_a + scale_a * u;
  const double centre_b = origin_b + scale_b * w;
  if (!(n11 * n22 - n12 * n12 > 0.0)) {  // no curvature could be told: the prior's scale
    n11 = n22 = 1.0;
    n12 = 0.0;
  }
  // Lower Cholesky factor of the inverse curvature: log tau moves with the first lattice coordinate only.
  const double det = n11 * n22 - n12 * n12;
  const double r11 = std::sqrt(n22 / det);
  const double r21 = (-n12 / det) / r11;
  const double r22 = std::sqrt(std::max(n11 / det - r21 * r21, 1e-300));

  std::vector<std::int16_t> index(static_cast<std::size_t>(lattice_width) * lattice_width);
  std::vector<std::uint32_t> queue;
  constexpr std::size_t usual_nodes = 160;  // about 90 are needed; more room than that is seldom asked for
  means_.reserve(usual_nodes * q);
  covariances_.reserve(usual_nodes * q * q);
  const auto fill = [&](double spacing) {
    spacing_ = spacing;
    std::fill(index.begin(), index.end(), std::int16_t{-1});
    sprints_.clear();
    log_density_.clear();
    lattice_first_.clear();
    lattice_second_.clear();
    means_.clear();
    covariances_.clear();
    queue.clear();
    double highest = -std::numeric_limits<double>::infinity();
    bool at_edge = false;
    const auto slot = [&](int a, int b) -> std::int16_t& {
      return index[lattice_place(b) * lattice_width + lattice_place(a)];
    };
    const auto visit = [&](int a, int b) {
      if (std::abs(a) > lattice_reach || std::abs(b) > lattice_reach) {
        at_edge = true;
        return;
      }
      if (slot(a, b) >= 0) {
        return;
      }
      const std::size_t node = sprints_.size();
      slot(a, b) = static_cast<std::int16_t>(node);
      const double z1 = spacing * a;
      const double z2 = spacing * b;
      const Place place = place_of(centre_a + scale_a * r11 * z1, centre_b + scale_b * (r21 * z1 + r22 * z2));
      means_.resize((node + 1) * q);
      covariances_.resize((node + 1) * q * q);
      const double value = likelihood.condition(place.log_v, place.log_tau, std::span(means_).subspan(node * q, q),
                                                std::span(covariances_).subspan(node * q * q, q * q)) +
                           place.log_jacobian;
      sprints_.push_back({std::exp(place.log_v), std::exp(place.log_tau)});
      log_density_.push_back(value);
      lattice_first_.push_back(a);
      lattice_second_.push_back(b);
      highest = std::max(highest, value);
      queue.push_back(static_cast<std::uint32_t>(node));
    };
    visit(0, 0);
    for (std::size_t head = 0; head < queue.size();
         ++head) {  // NOLINT(modernize-loop-convert): the queue grows meanwhile
      const std::uint32_t node = queue[head];
      if (log_density_[node] < highest - (effort.coarse ? coarse_log_cut : log_cut)) {
        continue;
      }
      const int a = lattice_first_[node];
      const int b = lattice_second_[node];
      visit(a + 1, b);
      visit(a - 1, b);
      visit(a, b + 1);
      visit(a, b - 1);
    }
    // Rows and columns without gaps, so that each can be integrated along.
    for (bool changed = true; changed;) {
      changed = false;
      const std::size_t before = sprints_.size();
      std::array<std::array<int, 2>, lattice_width> row{};
      std::array<std::array<int, 2>, lattice_width> column{};
      row.fill({lattice_width, -lattice_width});
      column.fill({lattice_width, -lattice_width});
      for (std::size_t i = 0; i < before; ++i) {
        auto& r = row[lattice_place(lattice_second_[i])];
        auto& c = column[lattice_place(lattice_first_[i])];
        r = {std::min(r[0], lattice_first_[i]), std::max(r[1], lattice_first_[i])};
        c = {std::min(c[0], lattice_second_[i]), std::max(c[1], lattice_second_[i])};
      }
      for (int k = -lattice_reach; k <= lattice_reach; ++k) {
        const auto& r = row[lattice_place(k)];
        for (int a = r[0]; a <= r[1]; ++a) {
          visit(a, k);
        }
        const auto& c = column[lattice_place(k)];
        for (int b = c[0]; b <= c[1]; ++b) {
          visit(k, b);
        }
      }
      changed = sprints_.size() != before;
    }
    // Weights, and the mass told by every other node in both directions.
    weights_.resize(sprints_.size());
    double total = 0.0;
    double sparse = 0.0;
    for (std::size_t i = 0; i < weights_.size(); ++i) {
      log_density_[i] -= highest;
      weights_[i] = std::exp(log_density_[i]);
      total += weights_[i];
      if (lattice_first_[i] % 2 == 0 && lattice_second_[i] % 2 == 0) {
        sparse += 4.0 * weights_[i];
      }
    }
    for (double& weight : weights_) {
      weight /= total;
    }
    log_evidence_ = highest + std::log(total * spacing * spacing * scale_a * scale_b * r11 * r22);
    return at_edge ? std::numeric_limits<double>::infinity() : std::fabs(sparse / total - 1.0);
  };

  // For a Gaussian, two SDs between nodes put the mass wrong by 2.9%, one SD by 1e-8: the error falls with the fourth
  // power of what leaving out every other node shows.
  const Place top = place_of(centre_a, centre_b);
  mode_ = {std::exp(top.log_v), std::exp(top.log_tau)};
  if (effort.coarse) {
    if (!std::isfinite(fill(coarse_spacing))) {
      status_ = PosteriorStatus::not_certified;
    }
    return;
  }
  constexpr double tolerance = 0.06;  // leaves about 1e-5 of the mass
  if (fill(1.0) > tolerance) {
    status_ = PosteriorStatus::refined;
    if (fill(0.5) > tolerance && fill(0.25) > tolerance) {
      status_ = PosteriorStatus::not_certified;
    }
  }
  build_rows(along_first_, true);
  build_rows(along_second_, false);
}

bool Posterior::is_active(std::uint32_t term) const {
  return std::binary_search(active_.begin(), active_.end(), term);
}

namespace {

// Value at fraction x of the cell between v[1] and v[2] of four equally spaced values: cubic through all four.
double cubic(double v0, double v1, double v2, double v3, double x) {
  const double c3 = (v3 - v0) / 6.0 + (v1 - v2) / 2.0;
  const double c2 = (v0 + v2) / 2.0 - v1;
  const double c1 = v2 - v0 / 3.0 - v1 / 2.0 - v3 / 6.0;
  return v1 + x * (c1 + x * (c2 + x * c3));
}

}  // namespace

void Posterior::build_rows(Rows& rows, bool along_first) const {
  const std::vector<int>& along = along_first ? lattice_first_ : lattice_second_;
  const std::vector<int>& across = along_first ? lattice_second_ : lattice_first_;
  rows.nodes.resize(size());
  std::array<std::uint32_t, lattice_width + 1> start{};
  for (const int k : across) {
    ++start[lattice_place(k) + 1];
  }
  for (std::size_t k = 1; k < start.size(); ++k) {
    start[k] += start[k - 1];
  }
  std::array<int, lattice_width> smallest{};
  smallest.fill(lattice_width);
  for (std::size_t i = 0; i < size(); ++i) {
    int& least = smallest[lattice_place(across[i])];
    least = std::min(least, along[i]);
  }
  for (std::size_t i = 0; i < size(); ++i) {
    const auto k = lattice_place(across[i]);
    rows.nodes[start[k] + static_cast<std::uint32_t>(along[i] - smallest[k])] = static_cast<std::uint32_t>(i);
  }
  std::vector<double> residual;
  double total = 0.0;
  for (std::size_t k = 0; k + 1 < start.size(); ++k) {
    const std::uint32_t n = start[k + 1] - start[k];
    if (n == 0) {
      continue;
    }
    Row row;
    row.first_node = start[k];
    row.nodes = n;
    row.start = smallest[k];
    row.first_fine = static_cast<std::uint32_t>(rows.density.size());
    row.fine = static_cast<std::uint32_t>((n + 1) * fine_per_cell + 1);
    // What the density has beyond a unit Gaussian is smooth: interpolate that, held constant outside the nodes.
    residual.assign(n + 4, 0.0);
    for (std::uint32_t i = 0; i < n; ++i) {
      residual[i + 2] = log_density_[rows.nodes[row.first_node + i]] + 0.5 * square(spacing_ * (row.start + i));
    }
    residual[0] = residual[1] = residual[2];
    residual[n + 2] = residual[n + 3] = residual[n + 1];
    const double step = spacing_ / static_cast<double>(fine_per_cell);
    for (std::uint32_t i = 0; i < row.fine; ++i) {
      const std::uint32_t cell = std::min<std::uint32_t>(i / fine_per_cell, n);
      const double x = static_cast<double>(i - cell * fine_per_cell) / static_cast<double>(fine_per_cell);
      const double z = spacing_ * (row.start - 1.0) + step * i;
      rows.density.push_back(
          std::exp(cubic(residual[cell], residual[cell + 1], residual[cell + 2], residual[cell + 3], x) - 0.5 * z * z));
    }
    // Cumulative mass: integral of the cubic through four neighbours of each fine interval.
    const double* const p = &rows.density[row.first_fine];
    double mass = 0.0;
    rows.cumulative.push_back(0.0);
    for (std::uint32_t i = 0; i + 1 < row.fine; ++i) {
      const double before = i > 0 ? p[i - 1] : 0.0;
      const double after = i + 2 < row.fine ? p[i + 2] : 0.0;
      mass += step * (13.0 * (p[i] + p[i + 1]) - before - after) / 24.0;
      rows.cumulative.push_back(mass);
    }
    total += mass;
    rows.rows.push_back(row);
  }
  for (double& value : rows.density) {
    value /= total;
  }
  for (double& value : rows.cumulative) {
    value /= total;
  }
}

void Posterior::follow(std::span<const double> values, Along& along) const {
  if (values.size() != size()) {
    throw std::invalid_argument("of_sprint: values must have one entry a node");
  }
  double mean = 0.0;
  for (std::size_t i = 0; i < size(); ++i) {
    mean += weights_[i] * values[i];
  }
  double along_first = 0.0;
  double along_second = 0.0;
  for (std::size_t i = 0; i < size(); ++i) {
    const double wd = weights_[i] * (values[i] - mean);
    along_first += wd * lattice_first_[i];
    along_second += wd * lattice_second_[i];
  }
  const bool first = std::fabs(along_first) >= std::fabs(along_second);
  const Rows& rows = first ? along_first_ : along_second_;
  const double slope = first ? along_first : along_second;  // per node, where a row has one node only
  along.rows = &rows;
  along.step = spacing_ / static_cast<double>(fine_per_cell);
  along.fine.resize(rows.density.size());
  along.direction.resize(rows.rows.size());
  along.lowest = std::numeric_limits<double>::infinity();
  along.highest = -along.lowest;
  std::vector<double>& padded = along.padded;
  for (std::size_t r = 0; r < rows.rows.size(); ++r) {
    const Row& row = rows.rows[r];
    const std::uint32_t n = row.nodes;
    padded.resize(n + 4);
    for (std::uint32_t i = 0; i < n; ++i) {
      padded[i + 2] = values[rows.nodes[row.first_node + i]];
    }
    const double low_step = n > 1 ? padded[3] - padded[2] : slope;
    const double high_step = n > 1 ? padded[n + 1] - padded[n] : slope;
    padded[1] = padded[2] - low_step;
    padded[0] = padded[1] - low_step;
    padded[n + 2] = padded[n + 1] + high_step;
    padded[n + 3] = padded[n + 2] + high_step;
    double* const g = &along.fine[row.first_fine];
    for (std::uint32_t cell = 0; cell <= n; ++cell) {
      for (std::uint32_t k = 0; k < fine_per_cell; ++k) {
        g[cell * fine_per_cell + k] = cubic(padded[cell], padded[cell + 1], padded[cell + 2], padded[cell + 3],
                                            static_cast<double>(k) / static_cast<double>(fine_per_cell));
      }
    }
    g[row.fine - 1] = padded[n + 2];
    bool rising = true;
    bool falling = true;
    for (std::uint32_t i = 0; i + 1 < row.fine; ++i) {
      rising &= g[i + 1] > g[i];
      falling &= g[i + 1] < g[i];
    }
    along.direction[r] = static_cast<std::int8_t>(rising ? 1 : falling ? -1 : 0);
    for (std::uint32_t i = 0; i < row.fine; ++i) {
      along.lowest = std::min(along.lowest, g[i]);
      along.highest = std::max(along.highest, g[i]);
    }
  }
}

void Posterior::Along::evaluate(double c, double& cdf, double& density) const {
  // Mass of a row below its fine point i + x, 0 <= x <= 1: Hermite on the cumulative mass, whose slope is the density.
  const auto mass_at = [&](const Row& row, std::uint32_t i, double x) {
    const double c0 = rows->cumulative[row.first_fine + i];
    const double c1 = rows->cumulative[row.first_fine + i + 1];
    const double m0 = rows->density[row.first_fine + i] * step;
    const double m1 = rows->density[row.first_fine + i + 1] * step;
    return c0 + x * (m0 + x * (3.0 * (c1 - c0) - 2.0 * m0 - m1 + x * (2.0 * (c0 - c1) + m0 + m1)));
  };
  for (std::size_t r = 0; r < rows->rows.size(); ++r) {
    const Row& row = rows->rows[r];
    const double* const g = &fine[row.first_fine];
    const double row_mass = rows->cumulative[row.first_fine + row.fine - 1];
    const auto cross = [&](std::uint32_t i) {
      const double span = g[i + 1] - g[i];
      const double x = (c - g[i]) / span;
      const double p0 = rows->density[row.first_fine + i];
      const double p1 = rows->density[row.first_fine + i + 1];
      density += (p0 + x * (p1 - p0)) * step / std::fabs(span);
      return mass_at(row, i, x);
    };
    if (direction[r] > 0) {
      if (c >= g[row.fine - 1]) {
        cdf += row_mass;
      } else if (c > g[0]) {
        const auto i = static_cast<std::uint32_t>(std::upper_bound(g, g + row.fine, c) - g - 1);
        cdf += cross(i);
      }
    } else if (direction[r] < 0) {
      if (c >= g[0]) {
        cdf += row_mass;
      } else if (c > g[row.fine - 1]) {
        const auto i = static_cast<std::uint32_t>(
            std::upper_bound(g, g + row.fine, c, [](double a, double b) { return a > b; }) - g - 1);
        cdf += row_mass - cross(std::min(i, row.fine - 2));
      }
    } else {
      for (std::uint32_t i = 0; i + 1 < row.fine; ++i) {
        const double left = rows->cumulative[row.first_fine + i];
        const double right = rows->cumulative[row.first_fine + i + 1];
        const bool below_left = g[i] < c;
        const bool below_right = g[i + 1] < c;
        if (below_left && below_right) {
          cdf += right - left;
        } else if (below_left != below_right) {
          const double part = cross(i);
          cdf += below_left ? part - left : right - part;
        }
      }
    }
  }
}

Posterior::SprintDistribution Posterior::distribution_of_sprint(std::span<const double> values) const {
  SprintDistribution out;
  follow(values, out.along_);
  return out;
}

double Posterior::SprintDistribution::below(double x) const {
  double cdf = 0.0;
  double density = 0.0;
  along_.evaluate(x, cdf, density);
  return std::clamp(cdf, 0.0, 1.0);
}

Estimate Posterior::of_sprint(std::span<const double> values, double level,
                              std::optional<double> prior_variance) const {
  const Levels levels = levels_of(level);
  thread_local Along along;
  follow(values, along);
  Estimate estimate;
  double mean = 0.0;
  for (std::size_t i = 0; i < size(); ++i) {
    mean += weights_[i] * values[i];
  }
  double m2 = 0.0;
  double m3 = 0.0;
  double m4 = 0.0;
  for (std::size_t i = 0; i < size(); ++i) {
    const double d = values[i] - mean;
    const double wd2 = weights_[i] * d * d;
    m2 += wd2;
    m3 += wd2 * d;
    m4 += wd2 * d * d;
  }
  const double sd = std::sqrt(m2);
  estimate.mean = mean;
  estimate.sd = sd;
  if (prior_variance) {
    estimate.share_from_data = 1.0 - m2 / *prior_variance;
  }
  if (!(sd > 0.0)) {
    estimate.lo = estimate.median = estimate.hi = mean;
    return estimate;
  }
  const auto evaluate = [](double c, double& cdf, double& density) { along.evaluate(c, cdf, density); };
  const double skewness = m3 / (m2 * sd);
  const double excess = m4 / (m2 * m2) - 3.0;
  std::array<double, 3> quantile{};
  for (std::size_t k = 0; k < 3; ++k) {
    const double guess = mean + sd * cornish_fisher(levels.z[k], skewness, excess);
    quantile[k] = solve_quantile(evaluate, levels.p[k], std::clamp(guess, along.lowest, along.highest), along.lowest,
                                 along.highest, sd);
  }
  estimate.lo = quantile[0];
  estimate.median = quantile[1];
  estimate.hi = quantile[2];
  return estimate;
}

Estimate summarise_mixture(std::span<const double> weights, std::span<const double> means, std::span<const double> sds,
                           double level) {
  if (weights.size() != means.size() || weights.size() != sds.size() || weights.empty()) {
    throw std::invalid_argument("summarise_mixture: weights, means and sds must have the same size, at least 1");
  }
  const Levels levels = levels_of(level);
  // Components too light to move a quantile by 1e-6 of an SD are left out of the CDF, not of the moments.
  thread_local std::vector<double> w;
  thread_local std::vector<double> m;
  thread_local std::vector<double> inverse_sd;
  w.clear();
  m.clear();
  inverse_sd.clear();
  Estimate estimate;
  double kept = 0.0;
  for (std::size_t i = 0; i < weights.size(); ++i) {
    estimate.mean += weights[i] * means[i];
  }
  double m2 = 0.0;
  double m3 = 0.0;
  double m4 = 0.0;
  for (std::size_t i = 0; i < weights.size(); ++i) {
    const double d = means[i] - estimate.mean;
    const double d2 = d * d;
    const double s2 = sds[i] * sds[i];
    m2 += weights[i] * (d2 + s2);
    m3 += weights[i] * d * (d2 + 3.0 * s2);
    m4 += weights[i] * (d2 * d2 + 6.0 * d2 * s2 + 3.0 * s2 * s2);
    if (weights[i] > 1e-8) {
      kept += weights[i];
      w.push_back(weights[i]);
      m.push_back(means[i]);
      inverse_sd.push_back(sds[i] > 0.0 ? 1.0 / sds[i] : std::numeric_limits<double>::infinity());
    }
  }
  const double sd = std::sqrt(m2);
  estimate.sd = sd;
  if (!(sd > 0.0)) {
    estimate.lo = estimate.median = estimate.hi = estimate.mean;
    return estimate;
  }
  for (double& s : inverse_sd) {
    s = std::min(s, 1e9 / sd);
  }
  const NormalTable& table = NormalTable::get();
  const auto evaluate = [&](double x, double& cdf, double& density) {
    for (std::size_t i = 0; i < w.size(); ++i) {
      double slope = 0.0;
      table.add((x - m[i]) * inverse_sd[i], w[i], cdf, slope);
      density += slope * inverse_sd[i];
    }
    cdf /= kept;
    density /= kept;
  };
  const double skewness = m3 / (m2 * sd);
  const double excess = m4 / (m2 * m2) - 3.0;
  std::array<double, 3> quantile{};
  for (std::size_t k = 0; k < 3; ++k) {
    const double guess = estimate.mean + sd * cornish_fisher(levels.z[k], skewness, excess);
    quantile[k] =
        solve_quantile(evaluate, levels.p[k], guess, estimate.mean - 40.0 * sd, estimate.mean + 40.0 * sd, sd);
  }
  estimate.lo = quantile[0];
  estimate.median = quantile[1];
  estimate.hi = quantile[2];
  return estimate;
}

double mixture_below(std::span<const double> weights, std::span<const double> means, std::span<const double> sds,
                     double x) {
  double cdf = 0.0;
  double density = 0.0;
  for (std::size_t i = 0; i < weights.size(); ++i) {
    const double d = x - means[i];
    const double z = sds[i] > 0.0 ? d / sds[i] : (d > 0.0 ? 40.0 : -40.0);
    NormalTable::get().add(z, weights[i], cdf, density);
  }
  return std::clamp(cdf, 0.0, 1.0);
}

Estimate summarise_efficiency(std::span<const double> weights, std::span<const double> times_s,
                              std::span<const double> loss_means_s, std::span<const double> loss_sds_s, double level) {
  const std::size_t n = weights.size();
  if (times_s.size() != n || loss_means_s.size() != n || loss_sds_s.size() != n || n == 0) {
    throw std::invalid_argument("summarise_efficiency: all spans must have the same size, at least 1");
  }
  const Levels levels = levels_of(level);
  // Gauss-Hermite, 7 points, for a standard normal. Source: Abramowitz & Stegun (1964), table 25.10, n = 7.
  static constexpr std::array<double, 4> root = {0.0, 0.816287882858965, 1.673551628767471, 2.651961356835233};
  static constexpr std::array<double, 4> share = {0.8102646175568073, 0.4256072526101278, 0.0545155828191270,
                                                  0.000971781245099519};
  const double norm = std::sqrt(std::numbers::pi);
  Estimate estimate;
  double m1 = 0.0;
  double m2 = 0.0;
  for (std::size_t i = 0; i < n; ++i) {
    const auto add = [&](double z, double weight) {
      const double value = times_s[i] / (times_s[i] + loss_means_s[i] + loss_sds_s[i] * z);
      m1 += weights[i] * weight * value;
      m2 += weights[i] * weight * value * value;
    };
    add(0.0, share[0] / norm);
    for (std::size_t k = 1; k < root.size(); ++k) {
      add(std::numbers::sqrt2 * root[k], share[k] / norm);
      add(-std::numbers::sqrt2 * root[k], share[k] / norm);
    }
  }
  estimate.mean = m1;
  estimate.sd = std::sqrt(std::max(0.0, m2 - m1 * m1));
  const NormalTable& table = NormalTable::get();
  const auto evaluate = [&](double c, double& cdf, double& density) {
    for (std::size_t i = 0; i < n; ++i) {
      const double slope = -1.0 / std::max(loss_sds_s[i], 1e-9);
      double part = 0.0;
      table.add((times_s[i] * (1.0 / c - 1.0) - loss_means_s[i]) * slope, weights[i], cdf, part);
      density += part * times_s[i] / (c * c) * -slope;
    }
  };
  std::array<double, 3> quantile{};
  for (std::size_t k = 0; k < 3; ++k) {
    const double guess = std::clamp(estimate.mean + levels.z[k] * estimate.sd, 0.05, 5.0);
    quantile[k] = solve_quantile(evaluate, levels.p[k], guess, 0.01, 20.0, std::max(estimate.sd, 1e-9));
  }
  estimate.lo = quantile[0];
  estimate.median = quantile[1];
  estimate.hi = quantile[2];
  return estimate;
}

void Posterior::mixture(std::span<const double> values, std::span<const std::uint32_t> terms, std::span<double> means,
                        std::span<double> sds) const {
  mixture(values, terms, {}, means, sds);
}

void Posterior::mixture(std::span<const double> values, std::span<const std::uint32_t> terms,
                        std::span<const double> coefficients, std::span<double> means, std::span<double> sds) const {
  if ((!values.empty() && values.size() != size()) || means.size() != size() || sds.size() != size() ||
      (!coefficients.empty() && coefficients.size() != terms.size())) {
    throw std::invalid_argument("mixture: one entry a node, one coefficient a term is needed");
  }
  const std::size_t q = active_.size();
  double inactive_mean = 0.0;
  double inactive_variance = 0.0;
  std::array<std::uint32_t, max_linear_terms> place{};
  std::array<double, max_linear_terms> factor{};
  std::size_t count = 0;
  for (std::size_t t = 0; t < terms.size(); ++t) {
    const double coefficient = coefficients.empty() ? 1.0 : coefficients[t];
    const auto it = std::lower_bound(active_.begin(), active_.end(), terms[t]);
    if (it != active_.end() && *it == terms[t]) {
      factor[count] = coefficient;
      place[count++] = static_cast<std::uint32_t>(it - active_.begin());
    } else {
      const Normal& prior = data_.terms.at(terms[t]);
      inactive_mean += coefficient * prior.mean;
      inactive_variance += square(coefficient * prior.sd);
    }
  }
  for (std::size_t i = 0; i < size(); ++i) {
    double mean = (values.empty() ? 0.0 : values[i]) + inactive_mean;
    double variance = inactive_variance;
    const double* const node_means = means_.data() + i * q;
    const double* const node_covariance = covariances_.data() + i * q * q;
    for (std::size_t a = 0; a < count; ++a) {
      mean += factor[a] * node_means[place[a]];
      for (std::size_t b = 0; b < count; ++b) {
        variance += factor[a] * factor[b] * node_covariance[place[a] * q + place[b]];
      }
    }
    means[i] = mean;
    sds[i] = std::sqrt(std::max(variance, 0.0));
  }
}

Estimate Posterior::of_terms(std::span<const std::uint32_t> terms, double level) const {
  thread_local std::vector<double> means;
  thread_local std::vector<double> sds;
  means.resize(size());
  sds.resize(size());
  mixture({}, terms, means, sds);
  Estimate estimate = summarise_mixture(weights_, means, sds, level);
  const double prior_variance = prior_variance_of_terms(data_, terms);
  if (prior_variance > 0.0) {
    estimate.share_from_data = 1.0 - square(estimate.sd) / prior_variance;
  }
  return estimate;
}

}  // namespace bagsplit::sprint
