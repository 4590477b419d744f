#include "bagsplit/present/detail/path_drawing.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace bagsplit::present {

using basepath::PathPoint;

namespace {

constexpr double root = std::numbers::sqrt2;
Spot turned(double x_m, double y_m) {
  return {(x_m - y_m) / root, -(x_m + y_m) / root};
}

}  // namespace

Ground::Ground(const std::vector<const std::vector<PathPoint>*>& paths, double base_m, const Spot& low,
               const Spot& high) {
  Spot least{-base_m / root, -base_m * root};  // of third, second
  Spot most{base_m / root, 0.0};               // of first, home
  for (const auto* path : paths) {
    for (const PathPoint& p : *path) {
      const Spot s = turned(p.x_m, p.y_m);
      least = {std::min(least.x, s.x), std::min(least.y, s.y)};
      most = {std::max(most.x, s.x), std::max(most.y, s.y)};
    }
  }
  scale_ = std::min((high.x - low.x) / (most.x - least.x), (high.y - low.y) / (most.y - least.y));
  shift_ = {0.5 * (low.x + high.x - scale_ * (least.x + most.x)), 0.5 * (low.y + high.y - scale_ * (least.y + most.y))};
}

Spot Ground::at(double x_m, double y_m) const {
  const Spot s = turned(x_m, y_m);
  return {shift_.x + scale_ * s.x, shift_.y + scale_ * s.y};
}

PathPoint at_time(const std::vector<PathPoint>& path, double time_s) {
  const auto after =
      std::lower_bound(path.begin(), path.end(), time_s, [](const PathPoint& p, double t) { return p.time_s < t; });
  if (after == path.begin() || after == path.end()) {
    return after == path.end() ? path.back() : path.front();
  }
  PathPoint p = *after;
  const PathPoint& q = *std::prev(after);
  const double share = p.time_s > q.time_s ? (time_s - q.time_s) / (p.time_s - q.time_s) : 1.0;
  p.time_s = time_s;
  p.x_m = q.x_m + share * (p.x_m - q.x_m);
  p.y_m = q.y_m + share * (p.y_m - q.y_m);
  p.speed_mps = q.speed_mps + share * (p.speed_mps - q.speed_mps);
  p.heading_deg = q.heading_deg + share * std::remainder(p.heading_deg - q.heading_deg, 360.0);
  return p;
}

Spot right_of(const PathPoint& p) {
  constexpr double radians = std::numbers::pi / 180.0;
  const double angle = (p.heading_deg + 45.0) * radians;  // the page is turned by an eighth
  return {std::sin(angle), std::cos(angle)};
}

double top_speed(const std::vector<PathPoint>& path) {
  double top = 0.1;
  for (const PathPoint& p : path) {
    top = std::max(top, p.speed_mps);
  }
  return top;
}

std::vector<Spot> speed_band(const std::vector<PathPoint>& path, const Ground& ground, double least, double most,
                             double apart) {
  const double top = top_speed(path);
  std::vector<Spot> left;
  std::vector<Spot> right;
  Spot last{-1e9, -1e9};
  for (const PathPoint& p : path) {
    const Spot s = ground.at(p);
    if (std::hypot(s.x - last.x, s.y - last.y) < apart && &p != &path.back()) {
      continue;
    }
    last = s;
    const double half = 0.5 * (least + (most - least) * p.speed_mps / top);
    const Spot r = right_of(p);
    right.push_back({s.x + half * r.x, s.y + half * r.y});
    left.push_back({s.x - half * r.x, s.y - half * r.y});
  }
  right.insert(right.end(), left.rbegin(), left.rend());
  return right;
}

std::array<std::vector<Spot>, 4> bag_outlines(const jobs::PathQuestion& question, const Ground& ground, double least) {
  const double b = question.base_distance_m;
  const double w = std::max(question.course.bag_width_m, least / ground.scale());
  const double h = 0.5 * w;
  const auto square = [&](double x, double y) {
    return std::vector<Spot>{ground.at(x - h, y - h), ground.at(x + h, y - h), ground.at(x + h, y + h),
                             ground.at(x - h, y + h)};
  };
  return {square(b - h, h), square(b, b), square(h, b - h),
          std::vector<Spot>{ground.at(0, 0), ground.at(w, 0), ground.at(w, h), ground.at(h, w), ground.at(0, w)}};
}

}  // namespace bagsplit::present
