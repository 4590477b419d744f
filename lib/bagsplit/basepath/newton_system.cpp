#include <algorithm>
#include <cmath>

#include "bagsplit/basepath/detail/interior_point.hpp"

namespace bagsplit::basepath::discretised {

using arrow::at_duration;
using arrow::at_pull;

namespace {

Sample sample_with(const Path& path, std::size_t phase, std::size_t k, const basis::Basis& b) {
  const Pair& from = path.node(phase, k);
  const Pair& to = path.node(phase, k + 1);
  const auto& in = path.inner[phase * path.intervals + k];
  const double rate = 1.0 / path.step(phase);
  const auto combine_heading = [&](const double(&c)[4]) {
    return c[0] * from.heading + c[1] * in[0].heading + c[2] * in[1].heading + c[3] * to.heading;
  };
  const auto combine_speed = [&](const double(&c)[4]) {
    return c[0] * from.speed + c[1] * in[0].speed + c[2] * in[1].speed + c[3] * to.speed;
  };
  return {combine_heading(b.value), combine_speed(b.value), rate * combine_heading(b.slope),
          rate * combine_speed(b.slope)};
}

}  // namespace

Sample sample(const Path& path, std::size_t phase, std::size_t k, double xi) {
  return sample_with(path, phase, k, basis::at(xi));
}

// Where each leg is short of its displacement, and how far each bound is over, at the current heading, speed, duration.
void InteriorPoint::measure() {
  Vec at{};
  std::size_t j = 0;
  for (std::size_t p = 0; p < phases_; ++p) {
    const std::size_t l = problem_.leg_of(p);
    if (starts_leg(p)) {
      at = problem_.points[l];
      j = 0;
    }
    for (std::size_t k = 0; k < intervals_; ++k) {
      // Bounds are ordered by node: those of a node are measured on arriving there.
      for (; j < bounds_[l].size() && !bounds_[l][j].ahead_of(p, k); ++j) {
        const arrow::Bound& b = bounds_[l][j];
        bound_values_[l][j] = b.normal[0] * at[0] + b.normal[1] * at[1] - b.limit;
      }
      for (const Point& q : points_[p * intervals_ + k]) {
        at[0] += q.weight * q.s.speed * q.forward_x;
        at[1] += q.weight * q.s.speed * q.forward_y;
      }
    }
    short_by_[l] = {problem_.points[l + 1][0] - at[0], problem_.points[l + 1][1] - at[1]};
  }
}

void InteriorPoint::place(std::size_t p, std::size_t k) {
  const double h = path_.step(p);
  for (std::size_t i = 0; i < stages; ++i) {
    Point& q = points_[p * intervals_ + k][i];
    q.s = sample_with(path_, p, k, basis::gauss[i]);
    q.weight = h * basis::gauss_weight[i];
    q.forward_x = std::cos(q.s.heading);
    q.forward_y = std::sin(q.s.heading);
  }
}

// Everything at the current point: Gauss points, condensed stages, gradient of the Lagrangian.
void InteriorPoint::evaluate() {
  Vec pull{};
  std::size_t passed = 0;
  for (std::size_t p = 0; p < phases_; ++p) {
    const std::size_t l = problem_.leg_of(p);
    const std::vector<arrow::Bound>& bounds = bounds_[l];
    if (starts_leg(p)) {
      pull = path_.pull[l];
      passed = 0;
      for (std::size_t j = 0; j < bounds.size(); ++j) {
        pull[0] -= path_.bounds[l][j].weight * bounds[j].normal[0];
        pull[1] -= path_.bounds[l][j].weight * bounds[j].normal[1];
      }
    }
    duration_gradient_[p] = path_.duration[p] + keeping(p) * std::log(path_.duration[p] / kept_duration_[p]);
    for (std::size_t k = 0; k < intervals_; ++k) {
      for (; passed < bounds.size() && !bounds[passed].ahead_of(p, k); ++passed) {
        pull[0] += path_.bounds[l][passed].weight * bounds[passed].normal[0];
        pull[1] += path_.bounds[l][passed].weight * bounds[passed].normal[1];
      }
      place(p, k);
      const std::size_t at = p * intervals_ + k;
      Gradient& g = gradients_[at];
      g.fill(0.0);
      for (std::size_t i = 0; i < stages; ++i) {
        Point& q = points_[at][i];
        q.pull_along = pull[0] * q.forward_x + pull[1] * q.forward_y;
        q.pull_across = pull[1] * q.forward_x - pull[0] * q.forward_y;
        stage::evaluate(problem_.model_at(p, k, basis::gauss_node[i], intervals_), q.s.speed, q.s.turning, q.s.gaining,
                        path_.states[at][i], mu_ * share_, q.system);
        add_gradient(q, basis::gauss[i], path_.step(p), q.system.lagrangian, g);
      }
    }
  }
  measure();
}

// Adds the gradient of (weight . limits) - pull . displacement of one Gauss point over the interval's unknowns.
void InteriorPoint::add_gradient(const Point& q, const basis::Basis& b, double h, const double (&limits)[3],
                                 Gradient& g) {
  const double heading = -q.weight * q.s.speed * q.pull_across;
  const double speed = limits[0] - q.weight * q.pull_along;
  const double turning = limits[1] / h;
  const double gaining = limits[2] / h;
  for (std::size_t a = 0; a < 4; ++a) {
    g[heading_at[a]] += heading * b.value[a] + turning * b.slope[a];
    g[heading_at[a] + 1] += speed * b.value[a] + gaining * b.slope[a];
  }
  g[at_duration] -= q.s.turning * limits[1] + q.s.gaining * limits[2] + q.weight * q.s.speed * q.pull_along;
}

double InteriorPoint::optimality_error() const {
  double error = 0.0;
  for (std::size_t at = 0; at < points_.size(); ++at) {
    for (std::size_t i = 0; i < stages; ++i) {
      const stage::System& s = points_[at][i].system;
      const stage::State& z = path_.states[at][i];
      error = std::max(error, std::fabs(s.lagrangian_w));
      for (std::size_t q = 0; q < inequalities_; ++q) {
        error = std::max({error, std::fabs(s.residual[q]), std::fabs(z.slack[q] * z.weight[q] / share_ - mu_)});
      }
    }
  }
  for (std::size_t l = 0; l < problem_.legs(); ++l) {
    error = std::max({error, std::fabs(short_by_[l][0]), std::fabs(short_by_[l][1])});
    for (std::size_t j = 0; j < bounds_[l].size(); ++j) {
      const BoundState& z = path_.bounds[l][j];
      error = std::max({error, std::fabs(bound_values_[l][j] + z.slack), std::fabs(z.slack * z.weight / share_ - mu_)});
    }
  }
  return std::max(error, system_.largest(gradients_, duration_gradient_));
}

void InteriorPoint::assemble() {
  for (std::size_t p = 0; p < phases_; ++p) {
    system_.set_phase(p, path_.duration[p] + keeping(p), -duration_gradient_[p]);
    for (std::size_t k = 0; k < intervals_; ++k) {
      assemble_interval(p, k);
    }
  }
  for (std::size_t l = 0; l < problem_.legs(); ++l) {
    system_.set_pull(l, {-short_by_[l][0], -short_by_[l][1]});
    for (std::size_t j = 0; j < bounds_[l].size(); ++j) {
      const BoundState& z = path_.bounds[l][j];
      system_.set_bound(l, j, -z.slack / z.weight, -(bound_values_[l][j] + mu_ * share_ / z.weight));
    }
  }
}

void InteriorPoint::assemble_interval(std::size_t p, std::size_t k) {
  arrow::Interval& in = system_.interval(p, k);
  for (auto& row : in.matrix) {
    std::fill(row, row + arrow::local, 0.0);
  }
  Gradient gradient{};
  const double h = path_.step(p);
  const double rate = 1.0 / h;
  for (std::size_t i = 0; i < stages; ++i) {
    const Point& q = points_[p * intervals_ + k][i];
    const basis::Basis& b = basis::gauss[i];
    add_gradient(q, b, h, q.system.newton, gradient);
    const double(&c)[3][3] = q.system.matrix;
    const double(&force)[3] = q.system.lagrangian;
    const double u = q.s.speed;
    // Second derivatives in (heading, speed | turning, gaining); heading against turning or gaining is 0.
    const double tt = q.weight * u * q.pull_along;
    const double tu = -q.weight * q.pull_across;
    const double uu = c[0][0];
    const double uo = c[0][1] * rate;
    const double ua = c[0][2] * rate;
    const double oo = c[1][1] * rate * rate;
    const double oa = c[1][2] * rate * rate;
    const double aa = c[2][2] * rate * rate;
    // The log duration scales turning and gaining by exp(-eta), the displacement by exp(eta).
    const double eu = -(c[0][1] * q.s.turning + c[0][2] * q.s.gaining);
    const double eo = -(c[1][1] * q.s.turning + c[1][2] * q.s.gaining);
    const double ea = -(c[2][1] * q.s.turning + c[2][2] * q.s.gaining);
    const double row_turning = (eo - force[1]) * rate;
    const double row_gaining = (ea - force[2]) * rate;
    const double row_heading = -q.weight * u * q.pull_across;
    const double row_speed = eu - q.weight * q.pull_along;
    in.matrix[at_duration][at_duration] += -q.s.turning * (eo - force[1]) - q.s.gaining * (ea - force[2]) - tt;
    const double px[2] = {q.weight * u * q.forward_y, -q.weight * q.forward_x};   // heading, speed against pull x
    const double py[2] = {-q.weight * u * q.forward_x, -q.weight * q.forward_y};  // against pull y
    for (std::size_t x = 0; x < 4; ++x) {
      const std::size_t hx = heading_at[x];
      const std::size_t sx = hx + 1;
      const double vx = b.value[x];
      const double dx = b.slope[x];
      for (std::size_t y = 0; y < 4; ++y) {
        const double vy = b.value[y];
        const double dy = b.slope[y];
        if (y <= x) {
          in.matrix[hx][heading_at[y]] += tt * vx * vy + oo * dx * dy;
          in.matrix[sx][heading_at[y] + 1] += uu * vx * vy + ua * (vx * dy + dx * vy) + aa * dx * dy;
        }
        in.matrix[sx][heading_at[y]] += tu * vx * vy + uo * vx * dy + oa * dx * dy;
      }
      in.matrix[at_duration][hx] += row_heading * vx + row_turning * dx;
      in.matrix[at_duration][sx] += row_speed * vx + row_gaining * dx;
      in.matrix[at_pull][hx] += px[0] * vx;
      in.matrix[at_pull][sx] += px[1] * vx;
      in.matrix[at_pull + 1][hx] += py[0] * vx;
      in.matrix[at_pull + 1][sx] += py[1] * vx;
    }
    in.matrix[at_pull][at_duration] += u * px[1];
    in.matrix[at_pull + 1][at_duration] += u * py[1];
  }
  // Speed against heading was filled whole, the rest below the diagonal.
  for (std::size_t a = 0; a < arrow::local; ++a) {
    in.rhs[a] = -gradient[a];
    for (std::size_t b = 0; b < a; ++b) {
      if (a < at_duration && a % 2 == 0 && b % 2 == 1) {
        in.matrix[a][b] = in.matrix[b][a];
      } else {
        in.matrix[b][a] = in.matrix[a][b];
      }
    }
  }
}

}  // namespace bagsplit::basepath::discretised
