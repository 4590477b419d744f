// Geometry that drawings of a base path share. Not installed.
#pragma once

#include <array>
#include <vector>

#include "bagsplit/jobs/path/path_plan.hpp"
#include "bagsplit/present/chart/canvas.hpp"

namespace bagsplit::present {

using chart::Spot;

/// Where the diamond's metres lie on the page: home at the bottom, second above it.
class Ground {
 public:
  /// Fits the bases and all paths into the box between two corners.
  Ground(const std::vector<const std::vector<basepath::PathPoint>*>& paths, double base_m, const Spot& low,
         const Spot& high);

  Spot at(double x_m, double y_m) const;
  Spot at(const basepath::PathPoint& p) const { return at(p.x_m, p.y_m); }
  double scale() const { return scale_; }

 private:
  double scale_ = 1.0;
  Spot shift_{0.0, 0.0};
};

/// The runner at a moment, between the drawn points.
basepath::PathPoint at_time(const std::vector<basepath::PathPoint>& path, double time_s);

/// On the page, to the right of the direction of running, length 1.
Spot right_of(const basepath::PathPoint& p);

double top_speed(const std::vector<basepath::PathPoint>& path);

/// The outline of a band along the path, `least` wide at rest and `most` at the greatest speed. @param apart  points
/// nearer than this are left out.
std::vector<Spot> speed_band(const std::vector<basepath::PathPoint>& path, const Ground& ground, double least,
                             double most, double apart = 0.0);

/// Outlines of first, second, third and home, at least `least` across.
std::array<std::vector<Spot>, 4> bag_outlines(const jobs::PathQuestion& question, const Ground& ground, double least);

/// The same bags' places in metres, in the same order.
struct BagPlace {
  const char* bag;
  double x_m, y_m;
};

}  // namespace bagsplit::present
