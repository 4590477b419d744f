#include "bagsplit/basepath/detail/discretised.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

#include "bagsplit/basepath/detail/basis.hpp"

namespace bagsplit::basepath::discretised {

namespace {

constexpr double pi = std::numbers::pi;

std::size_t inequality_count(const Problem& problem, const Path& path) {
  std::size_t total = path.states.size() * stages * stage::count(problem.model);
  for (const auto& b : path.bounds) {
    total += b.size();
  }
  return total;
}

// Headings of the chords, unwrapped so that each turns by at most half a circle from the one before.
std::vector<double> chord_headings(const std::vector<Vec>& points) {
  std::vector<double> heading;
  for (std::size_t l = 0; l + 1 < points.size(); ++l) {
    double h = std::atan2(points[l + 1][1] - points[l][1], points[l + 1][0] - points[l][0]);
    if (l > 0) {
      h += 2.0 * pi * std::round((heading.back() - h) / (2.0 * pi));
    }
    heading.push_back(h);
  }
  return heading;
}

// Speed after a time: from one value towards another as exp(-t/rise), or evenly down to rest.
struct Profile {
  double from, towards, rise, duration;
  bool to_rest;
  double operator()(double t) const {
    return to_rest ? from * std::fmax(0.0, 1.0 - t / duration) : towards + (from - towards) * std::exp(-t / rise);
  }
};

}  // namespace

double LateSlowing::taken(std::size_t phase, double share) const {
  const std::vector<double>& at = run[phase];
  const double place = share * static_cast<double>(at.size() - 1);
  const std::size_t k = std::min(static_cast<std::size_t>(place), at.size() - 2);
  const double here = at[k] + (place - static_cast<double>(k)) * (at[k + 1] - at[k]);
  return rate * std::max(0.0, here - from);
}

friction::Model Problem::model_at(std::size_t phase, std::size_t interval, double xi, std::size_t intervals) const {
  friction::Model m = model;
  if (slowing) {
    m.top_speed -= slowing->taken(phase, (static_cast<double>(interval) + xi) / static_cast<double>(intervals));
    m.soft = 1e-3 * m.propulsion(0.0);
  }
  return m;
}

std::vector<std::vector<double>> run_of(const Path& path, double before) {
  std::vector<std::vector<double>> run;
  for (std::size_t p = 0; p < path.phases(); ++p) {
    run.push_back({before});
    constexpr std::size_t parts = 4;
    constexpr double width = 1.0 / static_cast<double>(parts);
    for (std::size_t at = 0; at < parts * path.intervals; ++at) {
      for (std::size_t i = 0; i < stages; ++i) {
        const double xi = width * (static_cast<double>(at % parts) + basis::gauss_node[i]);
        before += width * path.step(p) * basis::gauss_weight[i] * sample(path, p, at / parts, xi).speed;
      }
      run.back().push_back(before);
    }
  }
  return run;
}

std::vector<std::vector<arrow::Bound>> bounds_of(const Problem& problem, std::size_t intervals) {
  std::vector<std::vector<arrow::Bound>> bounds(problem.legs());
  for (std::size_t p = 0; p < problem.phases(); ++p) {
    const std::size_t leg = problem.leg_of(p);
    // The first node is a bag, or the last node of the phase before.
    const bool ends_leg = p + 1 == problem.phases() || problem.leg_of(p + 1) != leg;
    for (std::size_t k = 1; k <= intervals - (ends_leg ? 1 : 0); ++k) {
      for (const HalfPlane& h : problem.planes) {
        if (h.leg == leg) {
          bounds[leg].push_back({p, k, h.normal, h.bound});
        }
      }
    }
  }
  return bounds;
}

void restart(const Problem& problem, Path& path, double barrier) {
  const bool fresh = path.states.empty();
  if (fresh) {
    path.states.resize(path.inner.size());
    path.bounds.assign(problem.legs(), {});
  }
  const auto bounds = bounds_of(problem, path.intervals);
  for (std::size_t l = 0; l < problem.legs(); ++l) {
    path.bounds[l].resize(bounds[l].size());
  }
  const double share = barrier / static_cast<double>(inequality_count(problem, path));
  // A slack is what the limit leaves, but at least what suits its multiplier at this barrier; then the multiplier
  // follows.
  const auto balance = [&](double left, double& slack, double& weight) {
    const double least = fresh ? 0.02 : std::clamp(share / std::max(weight, 1e-12), 1e-6, 0.1);
    slack = std::max(left, least);
    weight = share / slack;
  };
  const std::size_t inequalities = stage::count(problem.model);
  Vec at{};
  std::size_t j = 0;
  for (std::size_t p = 0; p < problem.phases(); ++p) {
    const std::size_t l = problem.leg_of(p);
    if (p == 0 || problem.leg_of(p - 1) != l) {
      at = problem.points[l];
      j = 0;
    }
    for (std::size_t k = 0; k < path.intervals; ++k) {
      for (; j < bounds[l].size() && !bounds[l][j].ahead_of(p, k); ++j) {
        const double left = bounds[l][j].limit - bounds[l][j].normal[0] * at[0] - bounds[l][j].normal[1] * at[1];
        balance(left, path.bounds[l][j].slack, path.bounds[l][j].weight);
      }
      for (std::size_t i = 0; i < stages; ++i) {
        const Sample s = sample(path, p, k, basis::gauss_node[i]);
        at[0] += path.step(p) * basis::gauss_weight[i] * s.speed * std::cos(s.heading);
        at[1] += path.step(p) * basis::gauss_weight[i] * s.speed * std::sin(s.heading);
        stage::State& z = path.states[p * path.intervals + k][i];
        if (!problem.model.point_mass) {
          const double n = s.speed * s.turning / problem.model.lateral;
          z.w = 0.95 * std::sqrt(std::max(0.05, 1.0 - n * n));
        }
        double c[stage::most] = {};
        stage::values(problem.model_at(p, k, basis::gauss_node[i], path.intervals), s.speed, s.turning, s.gaining, z.w,
                      c);
        for (std::size_t q = 0; q < inequalities; ++q) {
          balance(-c[q], z.slack[q], z.weight[q]);
        }
      }
    }
  }
}

Path first_guess(const Problem& problem, const Options& options) {
  const std::size_t n = problem.legs();
  const std::size_t m = options.intervals;
  const friction::Model& model = problem.model;
  const std::vector<double> chord = chord_headings(problem.points);
  std::vector<double> length(n);
  for (std::size_t l = 0; l < n; ++l) {
    length[l] =
        std::hypot(problem.points[l + 1][0] - problem.points[l][0], problem.points[l + 1][1] - problem.points[l][1]);
  }
  // Headings at the points: between the chords that meet there; at the ends so that the leg is an arc.
  std::vector<double> at(n + 1);
  for (std::size_t b = 1; b < n; ++b) {
    at[b] = 0.5 * (chord[b - 1] + chord[b]);
  }
  at[0] = n > 1 ? 2.0 * chord[0] - at[1] : chord[0];
  at[n] = n > 1 ? 2.0 * chord[n - 1] - at[n - 1] : chord[n - 1];
  if (problem.start_speed > 0.0) {
    at[0] = problem.start_heading + 2.0 * pi * std::round((at[0] - problem.start_heading) / (2.0 * pi));
  }
  double turn = 0.05;
  for (std::size_t l = 0; l < n; ++l) {
    turn = std::max(turn, std::fabs(at[l + 1] - at[l]) / length[l]);
  }
  double cruise = std::sqrt(0.55 * model.most_lateral() / turn);
  if (!model.point_mass) {
    const double least = model.top_speed - (problem.slowing ? problem.slowing->taken(problem.phases() - 1, 1.0) : 0.0);
    cruise = std::min(cruise, 0.85 * least);
  }
  const double braking = 0.7 * model.most_braking();
  Path path;
  path.intervals = m;
  path.pull.resize(n);
  path.inner.assign(problem.phases() * m, {});
  // One phase along part of an arc. Trapezium sums are enough for a start.
  const auto lay = [&](Profile u, double distance, double heading, double turning) {
    std::vector<double> covered(m + 1);
    const auto time = [&](std::size_t k) { return u.duration * static_cast<double>(k) / static_cast<double>(m); };
    for (int pass = 0; pass < 8; ++pass) {
      for (std::size_t k = 1; k <= m; ++k) {
        covered[k] = covered[k - 1] + 0.5 * (time(k) - time(k - 1)) * (u(time(k - 1)) + u(time(k)));
      }
      u.duration *= distance / covered[m];
    }
    path.duration.push_back(u.duration);
    for (std::size_t k = 0; k <= m; ++k) {
      path.nodes.push_back({heading + turning * covered[k] / covered[m], u(time(k))});
    }
  };
  for (std::size_t l = 0; l < n; ++l) {
    const double half = 0.5 * (at[l + 1] - at[l]);
    const double arc = length[l] * (std::fabs(half) > 1e-6 && std::fabs(half) < 3.0 ? half / std::sin(half) : 1.0);
    const double from = l == 0 ? problem.start_speed : path.nodes.back().speed;
    const bool stops = l + 1 == n && problem.stop;
    const double towards = stops ? std::min(cruise, std::sqrt(braking * arc)) : cruise;
    const double going = stops ? arc - std::min(0.6 * arc, 0.5 * towards * towards / braking) : arc;
    lay({from, towards, towards / (0.7 * model.propulsion(0.0)), going / towards, false}, going, at[l],
        2.0 * half * going / arc);
    if (stops) {
      const double u = path.nodes.back().speed;
      lay({u, 0.0, 1.0, 2.0 * (arc - going) / u, true}, arc - going, at[l] + 2.0 * half * going / arc,
          2.0 * half * (1.0 - going / arc));
    }
    path.pull[l] = {std::cos(chord[l]) / cruise, std::sin(chord[l]) / cruise};
  }
  path.nodes.front().speed = problem.start_speed;
  for (std::size_t p = 1; p < problem.phases();
       ++p) {  // shared by two phases: the same to the last bit, and steps keep it so
    path.nodes[p * (m + 1)] = path.nodes[p * (m + 1) - 1];
  }
  if (problem.stop) {
    path.nodes.back().speed = 0.0;
  }
  restart(problem, path, options.barrier_start);
  path.status = Status::hit_iteration_limit;
  return path;
}

}  // namespace bagsplit::basepath::discretised
