#include "bagsplit/runs/log/detail/log_times.hpp"

#include <algorithm>
#include <cmath>

#include "bagsplit/runs/log/detail/log_usual.hpp"

namespace bagsplit::runs::detail {

namespace {

constexpr double slow_grace_s = 3.0;  // getting up and going, before a mean speed says anything

double slack_s(const Setting& setting, const SuspicionLimits& limits) {
  return setting.device == Device::stopwatch ? limits.hand_slack_s : limits.device_slack_s;
}

const StartBias& start_bias(const Setting& setting, const SuspicionLimits& limits) {
  return limits.start_bias.at(static_cast<std::size_t>(setting.device)).at(static_cast<std::size_t>(setting.start));
}

// By how much a time from the start may be short: the bias, and the doubt about it beside that of the presses.
double start_slack_s(const Setting& setting, const SuspicionLimits& limits) {
  const StartBias& bias = start_bias(setting, limits);
  return std::hypot(2.0 * bias.sd_s, slack_s(setting, limits)) - bias.mean_s;
}

bool counts_on_team_clock(const RawRow& row) {
  return row.leg >= 2 && !row.laps;
}

bool is_slow(double stretch_m, double stretch_s, const SuspicionLimits& limits) {
  return stretch_m > 0.0 && stretch_s > slow_grace_s + stretch_m / limits.slowest_speed_mps;
}

}  // namespace

RunTimes::RunTimes(const RawLog& log, const RawRow& row, const SuspicionLimits& limits)
    : row_(row),
      limits_(limits),
      slack_s_(slack_s(log.setting_of(row), limits)),
      start_slack_s_(start_slack_s(log.setting_of(row), limits)),
      from_rest_(log.setting_of(row).start != StartKind::beam),
      on_team_clock_(counts_on_team_clock(row)) {
  for (std::uint32_t k = row.first_split; k < row.first_split + row.split_count; ++k) {
    distance_m_.push_back(log.splits[k].distance_m);
    own_s_.push_back(own_time_s(log, row, k));
    if (log.splits[k].is_move) {  // who was off before the call has run for longer
      start_slack_s_ += std::max(0.0, -log.splits[k].time_s);
    }
  }
}

double RunTimes::clock_s(std::size_t k) const {
  if (!laps_.value_or(row_.laps)) {
    return own_s_[k];
  }
  double sum = 0.0;
  for (std::size_t j = 0; j <= k; ++j) {
    sum += own_s_[j];
  }
  return sum;
}

bool RunTimes::falls_back(std::size_t k) const {
  return k > 0 && stretch_m(k) > 0.0 && stretch_s(k) <= 0.0;
}

bool RunTimes::too_fast(std::size_t k) const {
  if (on_team_clock_ && k == 0) {
    return false;
  }
  if (stretch_m(k) <= 0.0) {
    return false;
  }
  const double v = limits_.top_speed_mps;
  if (stretch_m(k) > v * (stretch_s(k) + (k == 0 ? start_slack_s_ : slack_s_))) {
    return true;
  }
  if (on_team_clock_ || !from_rest_) {
    return false;
  }
  // From rest; the quick answer first, which nearly every time a child runs gets.
  const double t = clock_s(k) + start_slack_s_;
  const double tau = limits_.fastest_time_constant_s;
  return distance_m_[k] > v * (t - tau) && distance_m_[k] > v * (t + tau * std::expm1(-t / tau));
}

bool RunTimes::too_slow(std::size_t k) const {
  return !(on_team_clock_ && k == 0) && is_slow(stretch_m(k), stretch_s(k), limits_);
}

bool RunTimes::make_sense(double spread) const {
  double slowest = 1e9;
  double fastest = 0.0;
  for (std::size_t k = 0; k < size(); ++k) {
    if (falls_back(k) || too_fast(k) || too_slow(k)) {
      return false;
    }
    if (stretch_m(k) > 0.0 && !(on_team_clock_ && k == 0)) {
      slowest = std::min(slowest, stretch_m(k) / stretch_s(k));
      fastest = std::max(fastest, stretch_m(k) / stretch_s(k));
    }
  }
  return fastest <= spread * slowest;
}

bool is_plain(const RawLog& log, const RawRow& row, const SuspicionLimits& limits) {
  const Setting& setting = log.setting_of(row);
  // No more than what RunTimes allows, which takes longer to work out.
  const double slack = slack_s(setting, limits) - std::max(0.0, start_bias(setting, limits).mean_s);
  const bool on_team_clock = counts_on_team_clock(row);
  double before_m = 0.0;
  double before_s = 0.0;
  double last_lap_s = 0.0;
  bool rising_laps = row.laps && row.split_count > 1;
  for (std::uint32_t k = row.first_split; k < row.first_split + row.split_count; ++k) {
    const double at_m = log.splits[k].distance_m;
    const double at_s = log.splits[k].time_s;
    const double stretch_m = at_m - before_m;
    const double stretch_s = at_s - before_s;
    const bool first = k == row.first_split;
    if (!(first && on_team_clock)) {
      const bool rises = first || stretch_m <= 0.0 || stretch_s > 0.0;
      const bool slow_enough = stretch_m <= limits.top_speed_mps * (stretch_s + slack);
      const bool from_rest = on_team_clock || setting.start == StartKind::beam ||
                             at_m <= limits.top_speed_mps * (at_s + slack - limits.fastest_time_constant_s);
      const bool fast_enough = row.flag != Flag::none || !is_slow(stretch_m, stretch_s, limits);
      if (!rises || !slow_enough || !from_rest || !fast_enough) {
        return false;
      }
    }
    rising_laps = rising_laps && stretch_s > last_lap_s;
    last_lap_s = stretch_s;
    before_m = at_m;
    before_s = at_s;
  }
  return !rising_laps;
}

}  // namespace bagsplit::runs::detail
