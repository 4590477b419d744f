#include "bagsplit/basepath/detail/certificate.hpp"

#include <algorithm>
#include <cmath>

namespace bagsplit::basepath::certificate {

namespace {

using discretised::Path;
using discretised::Problem;
using discretised::Sample;
using discretised::Vec;

constexpr int parts = 8;  // Runge-Kutta steps an interval; the path is sampled twice as finely

struct Costate {
  double heading = 0.0, speed = 0.0;
};

// What is needed of the path at one instant.
struct Instant {
  friction::Model model;
  double speed, turning, gaining;
  double ex, ey;         // along
  double along, across;  // components of the pull
  double fading;         // how much of a gain in speed the propulsion takes back, of 1/tau
};

Instant instant(const Problem& problem, const Path& path, std::size_t p, std::size_t k, double xi, const Vec& pull) {
  const Sample s = discretised::sample(path, p, k, xi);
  Instant o{problem.model_at(p, k, xi, path.intervals),
            s.speed,
            s.turning,
            s.gaining,
            std::cos(s.heading),
            std::sin(s.heading),
            0.0,
            0.0,
            0.0};
  o.along = pull[0] * o.ex + pull[1] * o.ey;
  o.across = pull[1] * o.ex - pull[0] * o.ey;
  if (!o.model.point_mass) {
    const friction::Model::Push push = o.model.push(s.speed);
    const double above = s.gaining - o.model.drift(s.speed);
    const double used = above > 0.0 && push.value > 0.0 ? std::min(1.0, above / push.value) : 0.0;
    o.fading = 1.0 - (1.0 - used) * push.slope;
  }
  return o;
}

Costate slope(const Instant& o, const Costate& q) {
  Costate d{-o.speed * o.across, -o.along};
  if (o.speed > 1e-9) {
    d.speed += q.heading * o.turning / o.speed;
  }
  if (!o.model.point_mass) {
    d.speed += q.speed * o.fading / o.model.time_constant;
  }
  return d;
}

struct Rate {
  double gap, violation, drift, excess;
};

Rate look(const Instant& o, const Costate& q) {
  Rate r{0.0, 0.0, 0.0, 0.0};
  const friction::Model& m = o.model;
  const double across = o.speed * o.turning;
  const double weight_across = o.speed > 1e-9 ? q.heading / o.speed : 0.0;
  const double used = q.speed * o.gaining + weight_across * across;
  const friction::Room room = friction::room_along(m, o.speed, across);
  const double over_along = std::max({0.0, o.gaining - room.gaining, -o.gaining - room.losing});
  const double over_across = std::max(0.0, std::fabs(across) - m.most_lateral());
  r.excess = std::max(over_along, over_across);
  r.violation = std::fabs(q.speed) * over_along + std::fabs(weight_across) * over_across;
  r.gap = std::max(0.0, friction::support(m, o.speed, q.speed, weight_across) - used);
  r.drift = std::fabs(o.along * o.speed + used - 1.0);
  return r;
}

}  // namespace

Findings examine(const Problem& problem, const Path& path) {
  Findings out;
  const auto bounds = discretised::bounds_of(problem, path.intervals);
  Costate q;
  if (problem.stop) {
    q.speed = -1.0 / problem.model.most_braking();  // H = 1 at rest
  }
  Vec pull{};
  Vec covered{};          // displacement from here to the end of the leg
  std::size_t ahead = 0;  // bounds of the leg that lie ahead of here are those from this one on
  std::vector<Vec> rest;  // displacement from each bound to the end of the leg
  for (std::size_t p = path.phases(); p-- > 0;) {
    const std::size_t l = problem.leg_of(p);
    if (p + 1 == path.phases() || problem.leg_of(p + 1) != l) {
      pull = path.pull[l];
      covered = {0.0, 0.0};
      ahead = bounds[l].size();
      rest.resize(bounds[l].size());
    }
    const double h = path.step(p) / parts;
    for (std::size_t k = path.intervals; k-- > 0;) {
      while (ahead > 0 && bounds[l][ahead - 1].ahead_of(p, k)) {
        --ahead;
        const double weight = path.bounds[l][ahead].weight;
        pull[0] -= weight * bounds[l][ahead].normal[0];
        pull[1] -= weight * bounds[l][ahead].normal[1];
        rest[ahead] = covered;
      }
      Instant right = instant(problem, path, p, k, 1.0, pull);
      Rate rate_right = look(right, q);
      for (int j = parts; j-- > 0;) {
        const double xi = static_cast<double>(j) / parts;
        const Instant middle = instant(problem, path, p, k, xi + 0.5 / parts, pull);
        const Instant left = instant(problem, path, p, k, xi, pull);
        const Costate a = slope(right, q);
        const Costate b = slope(middle, {q.heading - 0.5 * h * a.heading, q.speed - 0.5 * h * a.speed});
        const Costate c = slope(middle, {q.heading - 0.5 * h * b.heading, q.speed - 0.5 * h * b.speed});
        const Costate d = slope(left, {q.heading - h * c.heading, q.speed - h * c.speed});
        q.heading -= h / 6.0 * (a.heading + 2.0 * b.heading + 2.0 * c.heading + d.heading);
        q.speed -= h / 6.0 * (a.speed + 2.0 * b.speed + 2.0 * c.speed + d.speed);
        covered[0] += h / 6.0 * (right.speed * right.ex + 4.0 * middle.speed * middle.ex + left.speed * left.ex);
        covered[1] += h / 6.0 * (right.speed * right.ey + 4.0 * middle.speed * middle.ey + left.speed * left.ey);
        const Rate rate = look(left, q);
        out.optimality_cost += 0.5 * h * (rate.gap + rate_right.gap);
        out.violation_cost += 0.5 * h * (rate.violation + rate_right.violation);
        out.largest_excess = std::max({out.largest_excess, rate.excess, rate_right.excess});
        out.hamiltonian_drift += 0.5 * h * (rate.drift + rate_right.drift) / path.total;
        right = left;
        rate_right = rate;
      }
    }
    if (p > 0 && problem.leg_of(p - 1) == l) {
      continue;
    }
    const Vec miss{problem.points[l + 1][0] - problem.points[l][0] - covered[0],
                   problem.points[l + 1][1] - problem.points[l][1] - covered[1]};
    const double distance = std::hypot(miss[0], miss[1]);
    out.largest_miss = std::max(out.largest_miss, distance);
    out.displacement_cost += distance * std::hypot(path.pull[l][0], path.pull[l][1]);
    for (std::size_t j = 0; j < bounds[l].size(); ++j) {
      const arrow::Bound& b = bounds[l][j];
      const double room = b.limit - b.normal[0] * (problem.points[l + 1][0] - rest[j][0]) -
                          b.normal[1] * (problem.points[l + 1][1] - rest[j][1]);
      out.bound_cost += std::fabs(room * path.bounds[l][j].weight);
    }
  }
  if (problem.start_speed == 0.0) {
    out.start_costate = std::fabs(q.heading);
  }
  return out;
}

}  // namespace bagsplit::basepath::certificate
