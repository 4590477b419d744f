#pragma once

#include "bagsplit/inference/reading/player_data.hpp"
#include "bagsplit/motion/curve.hpp"

/// The coordinates a player's posterior is integrated in; stays inside the module.
namespace bagsplit::inference {

/// log tau and log T*, T* the time to a distance d* in the middle of the marks. Readings pin T* far better than V or
/// tau alone, so in (log V, log tau) the posterior bends along a curve of constant T*; here it hardly bends.
/// V = d*/(T - tau (1 - exp(-T/tau))) for every T and tau; d log V / d log T = -T (1 - exp(-T/tau)) / (T - tau (...)).
///
/// d* is the mean distance of the marks. Where one mark is far more exact than others, that one pins its own time, and
/// the posterior bends after all; then d* is better the mean weighted by precision.
///
/// Both are counted from the prior's middle in (about) prior SDs, u and w. A prior wider than widest_unit counts as
/// that: it says nothing of where to look.
class SprintCoordinates {
 public:
  static constexpr double widest_unit = 2.0;

  /// @param data        priors with SDs above 0.
  /// @param distance_m  d*: mean_distance_m(), or precise_distance_m() where some marks are far more exact than others.
  SprintCoordinates(const PlayerData& data, double distance_m);

  struct Place {
    double log_v, log_tau, log_jacobian;  ///< of (log V, log tau) by (log tau, log T*)
    double time_constant_s;

    motion::Sprint sprint() const;
  };
  Place place(double log_tau, double log_time) const;
  /// At u, w.
  Place at(double u, double w) const { return place(origin_tau_ + unit_tau_ * u, origin_time_ + unit_time_ * w); }

  struct Point {
    double u, w;
  };
  Point point_of(const motion::Sprint& sprint) const;

  double origin_tau() const { return origin_tau_; }
  double origin_time() const { return origin_time_; }
  double unit_tau() const { return unit_tau_; }
  double unit_time() const { return unit_time_; }

 private:
  double distance_m_ = 0.0;  // d*
  double origin_tau_ = 0.0, origin_time_ = 0.0;
  double unit_tau_ = 1.0, unit_time_ = 1.0;
};

/// Of the marks but those of first moves, each alike; 20 m where there are none.
double mean_distance_m(const PlayerData& data);
/// The same, each weighted by its precision.
double precise_distance_m(const PlayerData& data);

}  // namespace bagsplit::inference
