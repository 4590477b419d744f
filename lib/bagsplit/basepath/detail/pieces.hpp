#pragma once

#include <optional>
#include <vector>

#include "bagsplit/basepath/path.hpp"

/// A path between full stops, SI in and out. Internal to basepath.
namespace bagsplit::basepath {

struct Piece {
  std::vector<Point> points;
  Limits limits = RunnerLimits{};
  bool stop = false;
  double start_speed_mps = 0.0;
  double before_m = 0.0;                    ///< run already, for late slowing
  std::optional<double> start_heading_rad;  ///< absent: straight at the next point
  std::vector<HalfPlane> half_planes;       ///< normals of length 1
};

struct PieceResult {
  bool found = false, certified = false;
  double total_s = 0.0, length_m = 0.0;
  std::vector<Passage> passages;
  std::vector<double> leg_s;
  std::vector<PathPoint> path;
  Certificate certificate;
  Sensitivity sensitivity;
};

/// @throws std::domain_error when a straight piece with a start speed cannot stop in its length.
PieceResult solve_piece(const Piece& piece, const PathOptions& options);

}  // namespace bagsplit::basepath
