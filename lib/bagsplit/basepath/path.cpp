#include "bagsplit/basepath/path.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <numbers>
#include <sstream>
#include <stdexcept>

#include "bagsplit/basepath/detail/pieces.hpp"
#include "bagsplit/basepath/straight.hpp"

namespace bagsplit::basepath {

namespace {

constexpr double degrees = 180.0 / std::numbers::pi;

template <class Error = std::domain_error>
[[noreturn]] void refuse(const std::string& what, double value, const char* bound) {
  std::ostringstream text;
  text << "best_path: " << what << " is " << value << ", but must be " << bound;
  throw Error(text.str());
}

std::string indexed(const char* what, std::size_t k) {
  return std::string(what) + "[" + std::to_string(k) + "]";
}

double distance(const Point& a, const Point& b) {
  return std::hypot(b.x_m - a.x_m, b.y_m - a.y_m);
}

void check(const PathProblem& p) {
  if (p.points.size() < 2) {
    refuse<std::invalid_argument>("number of points", static_cast<double>(p.points.size()), "at least 2");
  }
  if (!p.line_points.empty() && p.line_points.size() != p.points.size()) {
    refuse<std::invalid_argument>("number of line_points", static_cast<double>(p.line_points.size()),
                                  "that of points, or 0");
  }
  check(p.limits);
  for (const auto* list : {&p.points, &p.line_points}) {
    for (std::size_t k = 0; k < list->size(); ++k) {
      const Point& q = (*list)[k];
      if (!(std::fabs(q.x_m) < 1e6) || !(std::fabs(q.y_m) < 1e6)) {
        refuse(indexed("points", k) + " coordinate", std::fabs(q.x_m) < 1e6 ? q.y_m : q.x_m,
               "finite and within 1000 km");
      }
      if (k > 0 && !(distance((*list)[k - 1], q) > 0.1)) {
        refuse("distance to " + indexed("points", k), distance((*list)[k - 1], q), "above 0.1 m");
      }
    }
  }
  for (std::size_t k = 0; k < p.full_stops.size(); ++k) {
    if (p.full_stops[k] < 1 || p.full_stops[k] + 1 >= p.points.size()) {
      refuse<std::invalid_argument>(indexed("full_stops", k), static_cast<double>(p.full_stops[k]),
                                    "a point between the ends");
    }
  }
  const auto* runner = std::get_if<RunnerLimits>(&p.limits);
  const double top = runner ? runner->top_speed_mps : 1e6;
  if (!(p.start_speed_mps >= 0.0 && p.start_speed_mps < top)) {
    refuse("start_speed_mps", p.start_speed_mps, "at least 0 and below the top speed");
  }
  if (p.start_heading_deg && !std::isfinite(*p.start_heading_deg)) {
    refuse("start_heading_deg", *p.start_heading_deg, "finite");
  }
  if (p.max_outside_m && !(*p.max_outside_m > 0.0)) {
    refuse("max_outside_m", *p.max_outside_m, "above 0");
  }
  for (std::size_t k = 0; k < p.half_planes.size(); ++k) {
    const HalfPlane& h = p.half_planes[k];
    if (h.leg + 1 >= p.points.size()) {
      refuse<std::invalid_argument>(indexed("half_planes", k) + " leg", static_cast<double>(h.leg),
                                    "a leg of the path");
    }
    if (!std::isfinite(h.normal_x) || !std::isfinite(h.normal_y) || !(std::hypot(h.normal_x, h.normal_y) > 1e-9)) {
      refuse(indexed("half_planes", k) + " normal", std::hypot(h.normal_x, h.normal_y), "finite and above 0");
    }
    if (!std::isfinite(h.bound_m)) {
      refuse(indexed("half_planes", k) + " bound_m", h.bound_m, "finite");
    }
  }
}

const std::vector<Point>& lines(const PathProblem& p) {
  return p.line_points.empty() ? p.points : p.line_points;
}

// +1 where outside is on the right of the direction of running (counter-clockwise), -1 on the left.
double outside_sign(const PathProblem& p) {
  const auto& q = lines(p);
  double turn = 0.0;
  for (std::size_t k = 2; k < q.size(); ++k) {
    turn += (q[k - 1].x_m - q[k - 2].x_m) * (q[k].y_m - q[k - 1].y_m) -
            (q[k - 1].y_m - q[k - 2].y_m) * (q[k].x_m - q[k - 1].x_m);
  }
  if (turn == 0.0) {
    return p.clockwise ? -1.0 : 1.0;
  }
  return turn > 0.0 ? 1.0 : -1.0;
}

struct BaseLine {
  Point from;
  double along_x, along_y, out_x, out_y;
  double along(double x, double y) const { return (x - from.x_m) * along_x + (y - from.y_m) * along_y; }
  double outside(double x, double y) const { return (x - from.x_m) * out_x + (y - from.y_m) * out_y; }
};

BaseLine base_line(const PathProblem& p, std::size_t leg, double sign) {
  const auto& q = lines(p);
  const double d = distance(q[leg], q[leg + 1]);
  const double ax = (q[leg + 1].x_m - q[leg].x_m) / d;
  const double ay = (q[leg + 1].y_m - q[leg].y_m) / d;
  return {q[leg], ax, ay, sign * ay, -sign * ax};
}

// Half-planes of the user and of max_outside_m, with normals of length 1.
std::vector<HalfPlane> all_half_planes(const PathProblem& p) {
  std::vector<HalfPlane> all;
  for (const HalfPlane& h : p.half_planes) {
    const double n = std::hypot(h.normal_x, h.normal_y);
    all.push_back({h.leg, h.normal_x / n, h.normal_y / n, h.bound_m / n});
  }
  if (p.max_outside_m) {
    const double sign = outside_sign(p);
    for (std::size_t l = 0; l + 1 < p.points.size(); ++l) {
      const BaseLine b = base_line(p, l, sign);
      all.push_back({l, b.out_x, b.out_y, b.from.x_m * b.out_x + b.from.y_m * b.out_y + *p.max_outside_m});
    }
  }
  return all;
}

// Widest point of each leg from the drawn path, the peak refined by the parabola through three points.
std::vector<Swing> find_swings(const PathProblem& p, const std::vector<PathPoint>& path) {
  const double sign = outside_sign(p);
  std::vector<Swing> swings(p.points.size() - 1);
  std::size_t begin = 0;
  for (std::size_t l = 0; l < swings.size(); ++l) {
    const BaseLine line = base_line(p, l, sign);
    std::size_t end = begin;
    while (end < path.size() && path[end].leg == l) {
      ++end;
    }
    const auto out = [&](std::size_t i) { return line.outside(path[i].x_m, path[i].y_m); };
    std::size_t widest = begin;
    for (std::size_t i = begin; i < end; ++i) {
      if (out(i) > out(widest)) {
        widest = i;
      }
      if (!swings[l].leaves_m && out(i) >= 0.3) {
        double share = 0.0;
        if (i > begin && out(i) > out(i - 1)) {
          share = (0.3 - out(i)) / (out(i) - out(i - 1));
        }
        const double here = line.along(path[i].x_m, path[i].y_m);
        const double step = i > begin ? here - line.along(path[i - 1].x_m, path[i - 1].y_m) : 0.0;
        swings[l].leaves_m = here + share * step;
      }
    }
    if (widest > begin && widest + 1 < end && out(widest) > 0.0) {
      const double a = out(widest - 1);
      const double b = out(widest);
      const double c = out(widest + 1);
      const double bend = a - 2.0 * b + c;
      const double shift = bend < 0.0 ? std::clamp(0.5 * (a - c) / bend, -1.0, 1.0) : 0.0;
      const PathPoint& q = path[widest];
      const PathPoint& near = path[shift < 0.0 ? widest - 1 : widest + 1];
      const double here = line.along(q.x_m, q.y_m);
      swings[l] = {b - 0.25 * (a - c) * shift, here + std::fabs(shift) * (line.along(near.x_m, near.y_m) - here),
                   q.time_s + std::fabs(shift) * (near.time_s - q.time_s), swings[l].leaves_m};
    }
    begin = end;
  }
  return swings;
}

}  // namespace

PathProblem course_problem(const runs::Course& course, double base_distance_m, const Limits& limits) {
  if (!course.is_base_path()) {
    throw std::invalid_argument("course_problem: course " + course.name + " is not on the bases");
  }
  const Diamond diamond{base_distance_m, course.bag_width_m};
  PathProblem p;
  p.points = touch_points(diamond, course.bags, course.touch);
  p.line_points = touch_points(diamond, course.bags, runs::Touch::point);
  p.clockwise = course.reverse;
  p.limits = limits;
  p.stop = course.finish == runs::Finish::stop;
  return p;
}

PathResult best_path(const PathProblem& problem, const PathOptions& options) {
  check(problem);
  const std::vector<HalfPlane> planes = all_half_planes(problem);
  std::vector<std::size_t> stops = problem.full_stops;
  std::sort(stops.begin(), stops.end());
  stops.erase(std::unique(stops.begin(), stops.end()), stops.end());
  stops.push_back(problem.points.size() - 1);

  PathResult result;
  result.status = PathStatus::certified;
  result.message = "meets the optimality conditions within the stated cost";
  double line_length = 0.0;
  for (std::size_t l = 0; l + 1 < problem.points.size(); ++l) {
    line_length += distance(lines(problem)[l], lines(problem)[l + 1]);
  }
  result.straight_s = straight_time_s(problem.limits, line_length);
  std::size_t from = 0;
  for (const std::size_t to : stops) {
    Piece piece;
    piece.points.assign(problem.points.begin() + static_cast<std::ptrdiff_t>(from),
                        problem.points.begin() + static_cast<std::ptrdiff_t>(to) + 1);
    piece.limits = problem.limits;
    piece.before_m = result.length_m;
    piece.stop = to + 1 < problem.points.size() || problem.stop;
    if (from == 0) {
      piece.start_speed_mps = problem.start_speed_mps;
      if (problem.start_heading_deg) {
        piece.start_heading_rad = *problem.start_heading_deg / degrees;
      }
    }
    for (const HalfPlane& h : planes) {
      if (h.leg >= from && h.leg < to) {
        piece.half_planes.push_back({h.leg - from, h.normal_x, h.normal_y, h.bound_m});
      }
    }
    const PieceResult part = solve_piece(piece, options);
    if (!part.found) {
      PathResult failure;
      failure.message = "no path was found: the limits may leave none, or the iteration broke down";
      return failure;
    }
    for (std::size_t k = result.passages.empty() ? 0 : 1; k < part.passages.size(); ++k) {
      Passage q = part.passages[k];
      q.time_s += result.total_s;
      result.passages.push_back(q);
    }
    for (PathPoint q : part.path) {
      q.time_s += result.total_s;
      q.leg += from;
      result.path.push_back(q);
    }
    result.leg_s.insert(result.leg_s.end(), part.leg_s.begin(), part.leg_s.end());
    result.total_s += part.total_s;
    result.length_m += part.length_m;
    Certificate& c = result.certificate;
    c.optimality_s += part.certificate.optimality_s;
    c.violation_s += part.certificate.violation_s;
    c.miss_s += part.certificate.miss_s;
    c.hamiltonian_drift = std::max(c.hamiltonian_drift, part.certificate.hamiltonian_drift);
    c.start_s_per_rad = std::max(c.start_s_per_rad, part.certificate.start_s_per_rad);
    c.largest_excess_mps2 = std::max(c.largest_excess_mps2, part.certificate.largest_excess_mps2);
    c.largest_miss_m = std::max(c.largest_miss_m, part.certificate.largest_miss_m);
    c.intervals = std::max(c.intervals, part.certificate.intervals);
    c.iterations += part.certificate.iterations;
    result.sensitivity.top_speed += part.sensitivity.top_speed;
    result.sensitivity.time_constant += part.sensitivity.time_constant;
    result.sensitivity.lateral += part.sensitivity.lateral;
    result.sensitivity.braking += part.sensitivity.braking;
    result.sensitivity.acceleration += part.sensitivity.acceleration;
    if (!part.certified) {
      result.status = PathStatus::not_certified;
      result.message = "a path was found, but it does not meet the optimality conditions closely enough";
    }
    from = to;
  }
  result.swings = find_swings(problem, result.path);
  return result;
}

}  // namespace bagsplit::basepath
