#pragma once

#include <array>
#include <cstddef>
#include <optional>
#include <vector>

#include "bagsplit/basepath/detail/arrow.hpp"
#include "bagsplit/basepath/detail/friction.hpp"
#include "bagsplit/basepath/detail/stage.hpp"

/// The time-optimal path as a finite problem, solved by a primal-dual interior-point method. Internal to basepath;
/// everything here is dimensionless (pieces.cpp chooses the units).
///
/// Heading theta(t) and speed u(t) are continuous; on each phase they are piecewise cubics on equal intervals. The
/// limits hold at three Gauss points of each interval; each leg must cover its displacement, the integral of u (cos
/// theta, sin theta), taken by the same Gauss rule. Least sum of durations. A leg is one phase, but the last leg of a
/// path that stops is two: where full propulsion gives way to full braking the rate of change of speed jumps, and a
/// free duration for each side puts the end of an interval there.
namespace bagsplit::basepath::discretised {

using arrow::Vec;

inline constexpr std::size_t stages = 3;

/// n.p <= bound at the nodes of one leg.
struct HalfPlane {
  std::size_t leg = 0;
  Vec normal{};
  double bound = 0.0;
};

/// What late slowing takes of the top speed, with the length of the path run so far as an earlier iterate had it: the
/// solver takes it as given at each instant of each phase.
struct LateSlowing {
  double rate = 0.0;                     ///< k
  double from = 0.0;                     ///< x_s
  std::vector<std::vector<double>> run;  ///< each phase: at its start, and at the end of equal parts of it

  double taken(std::size_t phase, double share) const;  ///< share of the phase's duration gone by
};

struct Problem {
  friction::Model model;  ///< of a runner who does not slow down
  std::optional<LateSlowing> slowing;
  std::vector<Vec> points;     ///< n + 1 points to be passed in order, n >= 1; legs between them
  double start_speed = 0.0;    ///< at rest the first heading is free, otherwise it is start_heading
  double start_heading = 0.0;  ///< [rad]
  bool stop = false;           ///< comes to rest at the last point; otherwise the last speed is free
  std::vector<HalfPlane> planes;

  std::size_t legs() const { return points.size() - 1; }
  std::size_t phases() const { return legs() + (stop ? 1 : 0); }
  std::size_t leg_of(std::size_t phase) const { return phase < legs() ? phase : legs() - 1; }
  /// The model at xi in [0, 1] of an interval.
  friction::Model model_at(std::size_t phase, std::size_t interval, double xi, std::size_t intervals) const;
};

/// Heading [rad] and speed, or two coefficients of them.
struct Pair {
  double heading = 0.0, speed = 0.0;
};

struct BoundState {
  double slack = 1.0, weight = 0.0;
};

enum class Status { converged, hit_iteration_limit, line_search_failed, no_start };

/// A path on a mesh, with multipliers. Phase p has `intervals` equal intervals; its nodes are p (intervals + 1) + 0 ...
/// intervals.
struct Path {
  Status status = Status::no_start;
  std::size_t intervals = 0;
  std::vector<double> duration;  ///< of each phase
  std::vector<Vec> pull;         ///< of each leg: multiplier of its displacement
  std::vector<Pair> nodes;
  std::vector<std::array<Pair, 2>> inner;  ///< each interval: coefficients of xi(1-xi), xi(1-xi)(2 xi - 1)
  std::vector<std::array<stage::State, stages>> states;  ///< each interval
  std::vector<std::vector<BoundState>> bounds;           ///< each leg: its half-planes times its inner nodes
  double total = 0.0;
  double barrier = 0.0;
  double residual = 0.0;  ///< largest entry of the optimality conditions of the finite problem
  int iterations = 0;

  std::size_t phases() const { return duration.size(); }
  double step(std::size_t phase) const { return duration[phase] / static_cast<double>(intervals); }
  const Pair& node(std::size_t phase, std::size_t k) const { return nodes[phase * (intervals + 1) + k]; }
};

/// Heading and speed and their rates of change at xi in [0, 1] of interval k.
struct Sample {
  double heading, speed, turning, gaining;
};
Sample sample(const Path& path, std::size_t phase, std::size_t k, double xi);

/// The path run at the nodes of each phase, as LateSlowing::run.  @param before  run before this path begins.
std::vector<std::vector<double>> run_of(const Path& path, double before);

/// The bounds of each leg that half-planes make, in the order of Path::bounds.
std::vector<std::vector<arrow::Bound>> bounds_of(const Problem& problem, std::size_t intervals);

struct Options {
  std::size_t intervals = 12;  ///< per phase, at least 2
  double barrier_start = 0.1;
  double barrier_end = 1e-7;  ///< about what the barrier costs, in the unit of time of the problem
  int max_iterations = 120;
};

/// Arcs of constant turning through the points, at a moderate speed: where the iteration starts. It need not reach the
/// bags.
Path first_guess(const Problem& problem, const Options& options);

/// Makes the slacks and multipliers of a path fit other limits and a larger barrier, for a start from a near solution.
void restart(const Problem& problem, Path& path, double barrier);

/// Improves a path with the same points and flags (limits may differ) from `barrier_start` down to `barrier_end`.
/// Cost: about 25 iterations of 50 microseconds for four legs of 12 intervals.
Path improve(const Problem& problem, Path start, const Options& options);

}  // namespace bagsplit::basepath::discretised
