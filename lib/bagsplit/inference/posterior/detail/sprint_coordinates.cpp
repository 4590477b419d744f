#include "bagsplit/inference/posterior/detail/sprint_coordinates.hpp"

#include <algorithm>
#include <cmath>

namespace bagsplit::inference {

namespace {

constexpr double usual_distance_m = 20.0;  // where no mark is timed
constexpr double log_edge = 20.0;          // no player's log V or log tau lies beyond: the search begins within

template <typename Weight>
double weighted_distance_m(const PlayerData& data, Weight&& weight) {
  double sum = 0.0;
  double total = 0.0;
  for (const MarkData& mark : data.marks) {
    if (mark.distance_m > 0.0) {
      sum += weight(mark) * mark.distance_m;
      total += weight(mark);
    }
  }
  return total > 0.0 ? sum / total : usual_distance_m;
}

}  // namespace

double mean_distance_m(const PlayerData& data) {
  return weighted_distance_m(data, [](const MarkData&) { return 1.0; });
}

double precise_distance_m(const PlayerData& data) {
  return weighted_distance_m(data, [](const MarkData& mark) { return 1.0 / (mark.sd_s * mark.sd_s); });
}

SprintCoordinates::SprintCoordinates(const PlayerData& data, double distance_m) : distance_m_(distance_m) {
  const Normal& v = data.log_top_speed;
  const Normal& tau = data.log_time_constant;
  origin_tau_ = std::clamp(tau.mean, -log_edge, log_edge);
  const motion::Sprint middle{std::exp(std::clamp(v.mean, -log_edge, log_edge)), std::exp(origin_tau_)};
  origin_time_ = std::log(motion::time_to_distance(middle, distance_m_));
  unit_tau_ = std::min(tau.sd, widest_unit);
  const motion::Sprint slower{middle.top_speed_mps, middle.time_constant_s * std::exp(unit_tau_)};
  unit_time_ =
      std::hypot(std::min(v.sd, widest_unit), std::log(motion::time_to_distance(slower, distance_m_)) - origin_time_);
}

motion::Sprint SprintCoordinates::Place::sprint() const {
  return {std::exp(log_v), time_constant_s};
}

SprintCoordinates::Place SprintCoordinates::place(double log_tau, double log_time) const {
  const double tau = std::exp(log_tau);
  const double time = std::exp(log_time);
  const double unit = time / tau;
  const double unit_distance = motion::distance_at_time({1.0, 1.0}, unit);
  return {std::log(distance_m_ / (tau * unit_distance)), log_tau, std::log(-unit * std::expm1(-unit) / unit_distance),
          tau};
}

SprintCoordinates::Point SprintCoordinates::point_of(const motion::Sprint& sprint) const {
  return {(std::log(sprint.time_constant_s) - origin_tau_) / unit_tau_,
          (std::log(motion::time_to_distance(sprint, distance_m_)) - origin_time_) / unit_time_};
}

}  // namespace bagsplit::inference
