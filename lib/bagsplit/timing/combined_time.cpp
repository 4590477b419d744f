#include "bagsplit/timing/combined_time.hpp"

#include <cmath>
#include <map>
#include <sstream>
#include <stdexcept>

#include "bagsplit/stats/detail/elementary.hpp"

namespace bagsplit::timing {

namespace {

using stats::square;

struct Group {
  double precision = 0.0;   // sum of 1 / own variance
  double weighted_s = 0.0;  // sum of time / own variance
  double press_s2 = 0.0;    // sum of press variance / own variance^2
  double shared_variance_s2 = 0.0;
  std::size_t count = 0;

  double mean_s() const { return weighted_s / precision; }
};

double press_variance(const ReadingError& error) {
  return square(error.start_sd_s) + square(error.split_sd_s);
}

double own_variance(const ReadingError& error) {
  return square(error.bias_timer_sd_s) + press_variance(error);
}

void check(std::span<const WatchTime> watches) {
  if (watches.empty()) {
    throw std::domain_error("combine_watches: watches has 0 times, but must have at least 1");
  }
  for (std::size_t i = 0; i < watches.size(); ++i) {
    const double variance = own_variance(watches[i].error);
    if (!std::isfinite(watches[i].time_s)) {
      std::ostringstream text;
      text << "combine_watches: watches[" << i << "].time_s is " << watches[i].time_s << ", but must be finite";
      throw std::domain_error(text.str());
    }
    if (!(variance > 0.0) || !std::isfinite(variance)) {
      std::ostringstream text;
      text << "combine_watches: own variance of watches[" << i << "] is " << variance
           << ", but must be finite and above 0";
      throw std::domain_error(text.str());
    }
  }
}

}  // namespace

CombinedTime combine_watches(std::span<const WatchTime> watches) {
  check(watches);
  std::map<std::size_t, Group> groups;
  for (const WatchTime& watch : watches) {
    Group& group = groups[watch.group];
    const double shared = square(watch.error.bias_shared_sd_s);
    if (group.count > 0 && std::fabs(shared - group.shared_variance_s2) > 1e-12) {
      throw std::invalid_argument(
          "combine_watches: watches of one group differ in bias_shared_sd_s, but must share it");
    }
    const double variance = own_variance(watch.error);
    group.shared_variance_s2 = shared;
    group.precision += 1.0 / variance;
    group.weighted_s += (watch.time_s - watch.error.bias_mean_s) / variance;
    group.press_s2 += press_variance(watch.error) / square(variance);
    ++group.count;
  }
  double total = 0.0;
  for (const auto& [number, group] : groups) {
    total += 1.0 / (1.0 / group.precision + group.shared_variance_s2);
  }
  CombinedTime made;
  double press_variance_s2 = 0.0;
  for (const auto& [number, group] : groups) {
    const double weight = 1.0 / (1.0 / group.precision + group.shared_variance_s2) / total;
    made.time_s += weight * group.mean_s();
    press_variance_s2 += square(weight) * group.press_s2 / square(group.precision);
  }
  made.sd_s = std::sqrt(1.0 / total);
  made.sd_without_bias_s = std::sqrt(press_variance_s2);
  made.weights.reserve(watches.size());
  for (const WatchTime& watch : watches) {
    const Group& group = groups.at(watch.group);
    const double variance = own_variance(watch.error);
    const double weight = 1.0 / (1.0 / group.precision + group.shared_variance_s2) / total;
    made.weights.push_back(weight / (group.precision * variance));
    made.disagreement += square(watch.time_s - watch.error.bias_mean_s - group.mean_s()) / variance;
  }
  made.degrees = watches.size() - groups.size();
  return made;
}

}  // namespace bagsplit::timing
