#include "bagsplit/basepath/detail/pieces.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>

#include "bagsplit/basepath/detail/basis.hpp"
#include "bagsplit/basepath/detail/certificate.hpp"
#include "bagsplit/basepath/detail/discretised.hpp"
#include "bagsplit/basepath/straight.hpp"
#include "bagsplit/motion/curve.hpp"

namespace bagsplit::basepath {

namespace {

namespace discrete = discretised;

double compass_deg(double heading_rad) {
  return std::remainder(heading_rad * 180.0 / std::numbers::pi, 360.0);
}

double chord_heading(const Point& from, const Point& to) {
  return std::atan2(to.y_m - from.y_m, to.x_m - from.x_m);
}
double chord_length(const Point& from, const Point& to) {
  return std::hypot(to.x_m - from.x_m, to.y_m - from.y_m);
}

// One leg that can be run straight: no half-plane is in the way of the chord, and the start heads along it.
bool straight(const Piece& piece) {
  if (piece.points.size() != 2) {
    return false;
  }
  if (piece.start_speed_mps > 0.0 && piece.start_heading_rad) {
    const double off = std::remainder(*piece.start_heading_rad - chord_heading(piece.points[0], piece.points[1]),
                                      2.0 * std::numbers::pi);
    if (std::fabs(off) > 1e-12) {
      return false;
    }
  }
  return std::all_of(piece.half_planes.begin(), piece.half_planes.end(), [&](const HalfPlane& h) {
    return std::all_of(piece.points.begin(), piece.points.end(),
                       [&](const Point& p) { return h.normal_x * p.x_m + h.normal_y * p.y_m <= h.bound_m + 1e-9; });
  });
}

double straight_total(const Piece& piece, const Limits& limits) {
  return straight_run(limits, chord_length(piece.points[0], piece.points[1]), piece.start_speed_mps,
                      piece.stop ? 0.0 : std::numeric_limits<double>::infinity(), piece.before_m)
      .total_s();
}

// Central differences of the closed form; its digits allow a step of 1e-5.
Sensitivity straight_sensitivity(const Piece& piece) {
  Sensitivity s;
  const auto slope = [&](auto member) {
    Limits low = piece.limits;
    Limits high = piece.limits;
    double& l = member(low);
    double& h = member(high);
    const double step = 1e-5 * l;
    l -= step;
    h += step;
    return (straight_total(piece, high) - straight_total(piece, low)) / (2.0 * step);
  };
  if (std::holds_alternative<RunnerLimits>(piece.limits)) {
    s.top_speed = slope([](Limits& l) -> double& { return std::get<RunnerLimits>(l).top_speed_mps; });
    s.time_constant = slope([](Limits& l) -> double& { return std::get<RunnerLimits>(l).time_constant_s; });
    if (piece.stop) {
      s.braking = slope([](Limits& l) -> double& { return std::get<RunnerLimits>(l).braking_mps2; });
    }
  } else {
    s.acceleration = slope([](Limits& l) -> double& { return std::get<PointMassLimit>(l).acceleration_mps2; });
  }
  return s;
}

PieceResult solve_straight(const Piece& piece, const PathOptions& options) {
  const Point& from = piece.points[0];
  const Point& to = piece.points[1];
  const double length = chord_length(from, to);
  const double heading = chord_heading(from, to);
  const StraightRun run = straight_run(piece.limits, length, piece.start_speed_mps,
                                       piece.stop ? 0.0 : std::numeric_limits<double>::infinity(), piece.before_m);
  PieceResult r;
  r.found = r.certified = true;
  r.total_s = run.total_s();
  r.length_m = length;
  r.leg_s = {r.total_s};
  r.passages = {{from, 0.0, run.start_speed_mps, compass_deg(heading)},
                {to, r.total_s, run.end_speed_mps, compass_deg(heading)}};
  r.sensitivity = straight_sensitivity(piece);
  const std::size_t count = 12 * options.samples;
  for (std::size_t k = 0; count > 0 && k <= count; ++k) {
    const double t = r.total_s * static_cast<double>(k) / static_cast<double>(count);
    const StraightState s = straight_state(piece.limits, run, t);
    const double share = s.distance_m / length;
    r.path.push_back({t, from.x_m + share * (to.x_m - from.x_m), from.y_m + share * (to.y_m - from.y_m), s.speed_mps,
                      compass_deg(heading), s.acceleration_mps2, 0.0, 0});
  }
  return r;
}

// Units of the finite problem: the first chord, and the time that goes with it and the lateral limit.
struct Units {
  double length_m, time_s;
  double speed() const { return length_m / time_s; }
  double acceleration() const { return length_m / (time_s * time_s); }
};

Units units_of(const Piece& piece) {
  const double length = chord_length(piece.points[0], piece.points[1]);
  const auto* runner = std::get_if<RunnerLimits>(&piece.limits);
  const double acceleration = runner ? runner->lateral_mps2 : std::get<PointMassLimit>(piece.limits).acceleration_mps2;
  return {length, std::sqrt(length / acceleration)};
}

discrete::Problem scaled(const Piece& piece, const Units& u) {
  discrete::Problem p;
  if (const auto* r = std::get_if<RunnerLimits>(&piece.limits)) {
    p.model = {false,
               1.0,
               r->top_speed_mps / u.speed(),
               r->time_constant_s / u.time_s,
               r->lateral_mps2 / u.acceleration(),
               r->braking_mps2 / u.acceleration(),
               0.0};
  } else {
    p.model.radius = std::get<PointMassLimit>(piece.limits).acceleration_mps2 / u.acceleration();
  }
  const Point& origin = piece.points.front();
  for (const Point& q : piece.points) {
    p.points.push_back({(q.x_m - origin.x_m) / u.length_m, (q.y_m - origin.y_m) / u.length_m});
  }
  p.start_speed = piece.start_speed_mps / u.speed();
  p.start_heading = piece.start_heading_rad.value_or(chord_heading(piece.points[0], piece.points[1]));
  p.stop = piece.stop;
  for (const HalfPlane& h : piece.half_planes) {
    const double at_origin = h.normal_x * origin.x_m + h.normal_y * origin.y_m;
    p.planes.push_back({h.leg, {h.normal_x, h.normal_y}, (h.bound_m - at_origin) / u.length_m});
  }
  return p;
}

// Envelope theorem: the change of the total with a limit is the weighted sum of the changes of the inequalities.
// With late slowing, V and tau also move x_s: what is left of the top speed goes as V + k x_s.
Sensitivity path_sensitivity(const discrete::Problem& problem, const discrete::Path& path, const Units& u) {
  Sensitivity s;
  for (std::size_t p = 0; p < path.phases(); ++p) {
    for (std::size_t k = 0; k < path.intervals; ++k) {
      for (std::size_t i = 0; i < discrete::stages; ++i) {
        const discrete::Sample q = discrete::sample(path, p, k, basis::gauss_node[i]);
        const stage::State& z = path.states[p * path.intervals + k][i];
        const friction::Model m = problem.model_at(p, k, basis::gauss_node[i], path.intervals);
        const double across = q.speed * q.turning;
        if (m.point_mass) {
          s.acceleration -=
              2.0 * z.weight[0] * (q.gaining * q.gaining + across * across) / (m.radius * m.radius * m.radius);
        } else {
          s.lateral -= 2.0 * z.weight[0] * across * across / (m.lateral * m.lateral * m.lateral);
          const friction::Model::Push push = m.push(q.speed);
          const double per_propulsion =
              z.weight[1] * (1.0 - (1.0 - z.w) * push.slope) - z.weight[2] * (1.0 - push.slope);
          double by_speed = 1.0;
          double by_tau = 0.0;
          if (m.top_speed < problem.model.top_speed) {
            const double t = motion::late_slowing_from_s / u.time_s / m.time_constant;
            by_speed += problem.slowing->rate * problem.slowing->from / problem.model.top_speed;
            by_tau = problem.slowing->rate * problem.model.top_speed * (std::expm1(-t) + t * std::exp(-t));
          }
          s.top_speed -= per_propulsion * by_speed / m.time_constant;
          s.time_constant += per_propulsion * (m.propulsion(q.speed) - by_tau) / m.time_constant;
          s.braking -= z.weight[2] * z.w;
        }
      }
    }
  }
  s.lateral *= u.time_s / u.acceleration();
  s.braking *= u.time_s / u.acceleration();
  s.acceleration *= u.time_s / u.acceleration();
  s.top_speed *= u.time_s / u.speed();
  return s;
}

// Positions and the rest along the path, from integrals by the Gauss rule between sample points.
void draw(const Piece& piece, const discrete::Problem& problem, const discrete::Path& path, const Units& u,
          std::size_t samples, PieceResult& r) {
  const std::size_t parts = std::max<std::size_t>(1, samples);
  double time = 0.0;
  Point at = piece.points.front();
  for (std::size_t p = 0; p < path.phases(); ++p) {
    const std::size_t leg = problem.leg_of(p);
    const bool first_of_leg = p == 0 || problem.leg_of(p - 1) != leg;
    if (first_of_leg) {
      at = piece.points[leg];
      r.leg_s.push_back(0.0);
      const discrete::Pair& node = path.node(p, 0);
      r.passages.push_back({at, time * u.time_s, node.speed * u.speed(), compass_deg(node.heading)});
    }
    const double h = path.step(p);
    const auto add = [&](std::size_t k, double xi) {
      const discrete::Sample s = discrete::sample(path, p, k, xi);
      if (samples > 0) {
        r.path.push_back({(time + h * (static_cast<double>(k) + xi)) * u.time_s, at.x_m, at.y_m, s.speed * u.speed(),
                          compass_deg(s.heading), s.gaining * u.acceleration(), s.speed * s.turning * u.acceleration(),
                          leg});
      }
    };
    if (first_of_leg) {
      add(0, 0.0);
    }
    for (std::size_t k = 0; k < path.intervals; ++k) {
      for (std::size_t j = 0; j < parts; ++j) {
        const double width = 1.0 / static_cast<double>(parts);
        for (std::size_t i = 0; i < discrete::stages; ++i) {
          const discrete::Sample s =
              discrete::sample(path, p, k, width * (static_cast<double>(j) + basis::gauss_node[i]));
          const double weight = h * width * basis::gauss_weight[i] * s.speed * u.length_m;
          at.x_m += weight * std::cos(s.heading);
          at.y_m += weight * std::sin(s.heading);
          r.length_m += weight;
        }
        add(k, j + 1 == parts ? 1.0 : width * static_cast<double>(j + 1));
      }
    }
    time += path.duration[p];
    r.leg_s.back() += path.duration[p] * u.time_s;
  }
  const discrete::Pair& last = path.node(path.phases() - 1, path.intervals);
  r.passages.push_back({piece.points.back(), time * u.time_s, last.speed * u.speed(), compass_deg(last.heading)});
  r.total_s = time * u.time_s;
}

Certificate si(const certificate::Findings& f, const discrete::Path& path, const Units& u) {
  Certificate c;
  c.optimality_s = f.optimality_cost * u.time_s;
  c.violation_s = f.violation_cost * u.time_s;
  c.miss_s = (f.displacement_cost + f.bound_cost) * u.time_s;
  c.hamiltonian_drift = f.hamiltonian_drift;
  c.start_s_per_rad = f.start_costate * u.time_s;
  c.largest_excess_mps2 = f.largest_excess * u.acceleration();
  c.largest_miss_m = f.largest_miss * u.length_m;
  c.intervals = path.intervals;
  c.iterations = path.iterations;
  return c;
}

}  // namespace

// Solves with late slowing: the length of the path run so far, on which the limit hangs, is taken from a path without
// it, then from one with it.
discrete::Path improved(discrete::Problem& problem, double before, const discrete::Options& options) {
  if (!problem.slowing) {
    return discrete::improve(problem, discrete::first_guess(problem, options), options);
  }
  if (problem.slowing->run.empty()) {
    discrete::Problem plain = problem;
    plain.slowing.reset();
    discrete::Path path = discrete::improve(plain, discrete::first_guess(plain, options), options);
    if (path.status != discrete::Status::converged) {
      return path;
    }
    problem.slowing->run = discrete::run_of(path, before);
    if (problem.slowing->run.back().back() <= problem.slowing->from) {
      problem.slowing.reset();
      return path;
    }
  }
  discrete::Path path;
  int iterations = 0;
  for (int pass = 0; pass < 2; ++pass) {
    path = discrete::improve(problem, discrete::first_guess(problem, options), options);
    iterations += path.iterations;
    if (path.status != discrete::Status::converged) {
      break;
    }
    if (pass == 0) {
      problem.slowing->run = discrete::run_of(path, before);
    }
  }
  path.iterations = iterations;
  return path;
}

// What the solver is to know of late slowing; nothing where there is none.
std::optional<discrete::LateSlowing> slowing_of(const Piece& piece, const Units& u) {
  const auto* r = std::get_if<RunnerLimits>(&piece.limits);
  if (r == nullptr || r->late_slowing_per_s == 0.0) {
    return std::nullopt;
  }
  const double from_m = motion::late_slowing_from_m({r->top_speed_mps, r->time_constant_s, r->late_slowing_per_s});
  return discrete::LateSlowing{r->late_slowing_per_s * u.time_s, from_m / u.length_m, {}};
}

PieceResult solve_piece(const Piece& piece, const PathOptions& options) {
  if (straight(piece)) {
    return solve_straight(piece, options);
  }
  const Units u = units_of(piece);
  discrete::Problem problem = scaled(piece, u);
  problem.slowing = slowing_of(piece, u);
  const double before = piece.before_m / u.length_m;
  PieceResult r;
  discrete::Path best;
  certificate::Findings findings;
  double cost = std::numeric_limits<double>::infinity();
  int iterations = 0;
  // Finer and finer until the certificate is content. Where the iteration breaks down on every mesh (seen only for
  // runners at top speed after a tenth of a leg), other meshes and a larger barrier often serve: the certificate judges
  // those too.
  struct Attempt {
    std::size_t intervals;
    double barrier;
    bool last_resort;
  };
  constexpr Attempt attempts[] = {{12, 1e-7, false}, {24, 1e-7, false}, {48, 1e-7, false},
                                  {18, 1e-6, true},  {32, 1e-6, true},  {24, 1e-5, true}};
  for (const Attempt& attempt : attempts) {
    if (cost <= (attempt.last_resort ? options.certify : options.aim)) {
      break;
    }
    discrete::Options o;
    o.intervals = attempt.intervals;
    o.barrier_end = attempt.barrier;
    discrete::Path path = improved(problem, before, o);
    iterations += path.iterations;
    if (path.status != discrete::Status::converged) {
      continue;
    }
    const certificate::Findings f = certificate::examine(problem, path);
    const double share = f.cost() / path.total;
    if (share < cost) {
      cost = share;
      findings = f;
      best = std::move(path);
      r.found = true;
    }
  }
  if (!r.found) {
    return r;
  }
  best.iterations = iterations;
  r.certificate = si(findings, best, u);
  r.certified = cost <= options.certify && findings.hamiltonian_drift <= 0.03 && findings.start_costate <= 0.01;
  r.sensitivity = path_sensitivity(problem, best, u);
  draw(piece, problem, best, u, options.samples, r);
  return r;
}

}  // namespace bagsplit::basepath
