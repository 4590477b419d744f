#pragma once

#include <cstddef>
#include <optional>
#include <utility>
#include <vector>

#include "bagsplit/runs/log/detail/log_rows.hpp"

/// Inside the reader: whether a body can run at the times of one row, as typed or as they may have been meant.
namespace bagsplit::runs::detail {

/// Fastest over slowest mean speed of a run that makes sense, and of one whose times would be laps.
inline constexpr double even_stretches = 3.0;
inline constexpr double even_laps = 2.0;

/// One row's splits, to be tried out: distances are given, times may be changed. A stretch ends at a split and begins
/// at the one before, or at the start.
class RunTimes {
 public:
  RunTimes(const RawLog& log, const RawRow& row, const SuspicionLimits& limits);

  std::size_t size() const { return own_s_.size(); }
  /// The time as typed: the lap in a row of laps, else the time on the clock.
  double own_s(std::size_t k) const { return own_s_[k]; }
  void set_own_s(std::size_t k, double value) { own_s_[k] = value; }
  void swap_times(std::size_t a, std::size_t b) { std::swap(own_s_[a], own_s_[b]); }
  /// Takes the typed times as laps or as times on the clock, whatever the row says.
  void read_as(bool laps) { laps_ = laps; }
  /// A relay leg after the first whose times count from the team's start: nothing is known of its first stretch.
  bool on_team_clock() const { return on_team_clock_; }

  double clock_s(std::size_t k) const;
  double stretch_m(std::size_t k) const { return k == 0 ? distance_m_[0] : distance_m_[k] - distance_m_[k - 1]; }
  double stretch_s(std::size_t k) const { return k == 0 ? clock_s(0) : clock_s(k) - clock_s(k - 1); }

  bool falls_back(std::size_t k) const;
  bool too_fast(std::size_t k) const;
  bool too_slow(std::size_t k) const;
  /// Every stretch could have been run, and none at a wholly different speed from the others.
  bool make_sense(double spread = even_stretches) const;

 private:
  const RawRow& row_;
  const SuspicionLimits& limits_;
  std::vector<double> distance_m_;
  std::vector<double> own_s_;
  std::optional<bool> laps_;
  double slack_s_ = 0.0;        // between two marks
  double start_slack_s_ = 0.0;  // from the start to a mark
  bool from_rest_ = true;
  bool on_team_clock_ = false;
};

/// Whether a row may pass without a closer look: it rises, nothing is too fast or too slow, and laps do not rise all
/// along. May say no to a good row, never yes to a bad one. No allocation: nearly all rows end here.
bool is_plain(const RawLog& log, const RawRow& row, const SuspicionLimits& limits);

}  // namespace bagsplit::runs::detail
