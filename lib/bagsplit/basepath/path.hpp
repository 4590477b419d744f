#pragma once

#include <cstddef>
#include <optional>
#include <string_view>
#include <vector>

#include "bagsplit/basepath/diamond.hpp"
#include "bagsplit/basepath/limits.hpp"
#include "bagsplit/runs/courses/course.hpp"

/// The fastest path through bags, with a certificate.
namespace bagsplit::basepath {

/// Keeps one leg on one side of a line: normal_x x + normal_y y <= bound.
struct HalfPlane {
  std::size_t leg;  ///< from 0
  double normal_x, normal_y;
  double bound_m;
};

struct PathProblem {
  std::vector<Point> points;       ///< passed in order, start first; at least two, neighbours apart
  std::vector<Point> line_points;  ///< ends of the base lines that "outside" is measured from; empty: `points`
  bool clockwise = false;          ///< which side is outside on a path of one leg; otherwise the turns decide
  Limits limits = RunnerLimits{};
  bool stop = false;                    ///< must come to rest at the last point; otherwise runs through
  std::vector<std::size_t> full_stops;  ///< points (1 .. last - 1) at which the runner comes to rest and starts again
  double start_speed_mps = 0.0;         ///< 0 up to below top speed
  std::optional<double> start_heading_deg;  ///< of a start with speed; absent: straight at the next point
  std::optional<double> max_outside_m;      ///< how far outside the base lines the path may go; > 0
  std::vector<HalfPlane> half_planes;
};

/// The problem of a course: bags, direction, finish and touch as the course says; base lines from bag to bag.
/// @throws std::invalid_argument for a course that is not on the bases.
PathProblem course_problem(const runs::Course& course, double base_distance_m, const Limits& limits);

struct PathOptions {
  double aim = 1e-3;        ///< certificate cost, as a share of the total, at which the mesh is fine enough
  double certify = 2e-3;    ///< above this share the path is not certified
  std::size_t samples = 4;  ///< points of the drawn path for each interval of the mesh (12 to 48 a leg); 0 for none
};

enum class PathStatus {
  certified,      ///< meets the optimality conditions and the limits within `certify`
  not_certified,  ///< a path was found, but it does not
  failed,         ///< no path was found; only `message` is filled
};

/// How a path was checked, by code that does not share the solver's equations (certificate.hpp). A cost is, to first
/// order, the change in total time that mending the fault would make, so the total is that of a locally best path give
/// or take `cost_s()`. It is a local statement: a quite different path could in principle be faster.
struct Certificate {
  double optimality_s = 0.0;       ///< what better use of the limits along the path could still win
  double violation_s = 0.0;        ///< what keeping the limits everywhere (not only where they were imposed) would cost
  double miss_s = 0.0;             ///< what passing exactly over the points, and lines, would cost
  double hamiltonian_drift = 0.0;  ///< mean |H - 1|; H is 1 along a best path
  double start_s_per_rad = 0.0;    ///< gain from another first heading, at a start at rest
  double largest_excess_mps2 = 0.0;  ///< largest acceleration beyond the limits
  double largest_miss_m = 0.0;       ///< largest distance by which a point is missed
  std::size_t intervals = 0;         ///< of the mesh, per leg; 0 where the whole path is straight and in closed form
  int iterations = 0;

  double cost_s() const { return optimality_s + violation_s + miss_s; }
};

struct Passage {
  Point point;
  double time_s = 0.0, speed_mps = 0.0;
  double heading_deg = 0.0;  ///< counter-clockwise from the direction home to first, -180 to 180
};

/// How far one leg swings outside its base line.
struct Swing {
  double widest_m = 0.0;           ///< 0 where the leg never leaves the line outwards
  double along_m = 0.0;            ///< distance along the base line, from its start, of the widest point
  double time_s = 0.0;             ///< from the start of the path
  std::optional<double> leaves_m;  ///< distance along the line where the path is first 0.3 m outside
};

/// A point of the drawn path.
struct PathPoint {
  double time_s, x_m, y_m, speed_mps, heading_deg;
  double along_mps2, across_mps2;  ///< acceleration along and across the velocity, left turns positive
  std::size_t leg;
};

/// Change of the total with each limit [s per unit of the limit]; 0 for those that do not apply. From the multipliers
/// of the limits (envelope theorem), so exact to first order.
struct Sensitivity {
  double top_speed = 0.0, time_constant = 0.0, lateral = 0.0, braking = 0.0;
  double acceleration = 0.0;  ///< point mass
};

struct PathResult {
  PathStatus status = PathStatus::failed;
  std::string_view message;  ///< one line for people
  double total_s = 0.0;
  double length_m = 0.0;
  double straight_s = 0.0;        ///< straight sprint from rest over the sum of the distances between line points
  std::vector<Passage> passages;  ///< at each point, the start included
  std::vector<double> leg_s;
  std::vector<Swing> swings;    ///< each leg
  std::vector<PathPoint> path;  ///< in order of time; empty when no samples were asked for
  Certificate certificate;
  Sensitivity sensitivity;

  bool usable() const { return status == PathStatus::certified; }
};

/// The fastest path. Between full stops, and where a single leg can be run straight, it is put together from
/// independent pieces; straight pieces are in closed form (straight.hpp), the others by the method of README.md.
///
/// @throws std::domain_error, std::invalid_argument naming what is wrong with the problem; hard numerics give a status.
/// Accuracy: total_s within 1e-5 relative of the optimum in the middle of the range of runners, within 1e-4 anywhere
/// `certified` (tests/basepath).  Cost: about 1 ms a circuit; up to 10 ms where the mesh has to be refined.
PathResult best_path(const PathProblem& problem, const PathOptions& options = {});

}  // namespace bagsplit::basepath
