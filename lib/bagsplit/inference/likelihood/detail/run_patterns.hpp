#pragma once

#include <cstddef>
#include <cstdint>
#include <limits>
#include <span>
#include <vector>

#include "bagsplit/inference/reading/player_data.hpp"

/// A player's readings as sufficient statistics; stays inside the module. Runs with the same marks, error sizes and
/// terms are of one pattern; those of it on one day are exchangeable and enter by their mean and scatter, so that what
/// is done at a sprint does not grow with the number of runs.
///
/// Noise of one run, readings r = 1..R over the marks of all of them (N in all):
///     A = D + cv^2 T T' + B B',   D diagonal (s_split^2), B B' = Z (s_start^2 I + s_RT^2 s s') Z',
/// Z_jr = 1 where mark j is of reading r, s_r = 1 where reading r has a signal start. W = D^-1 below.
namespace bagsplit::inference {

/// Runs of a pattern on one day.
struct RunGroup {
  std::uint32_t day = 0;  ///< 0, 1, ... in order of first use
  double n = 0.0;
  double y_w_y = 0.0;
  std::vector<double> mean;   ///< N
  std::vector<double> x_w_y;  ///< qa
  std::vector<double> b_w_y;  ///< R
};

/// A sprint at RunPatterns::distances_m; what no column is weighed by may be left at 0.
struct SprintTimes {
  std::vector<double> time_s, by_late_s2, slowness_s_pm;

  std::span<const double> by(Weigh weigh) const {
    return weigh == Weigh::late ? by_late_s2 : weigh == Weigh::beam ? slowness_s_pm : time_s;
  }
};

struct WeighedColumn {
  std::size_t column = 0;
  Weigh by = Weigh::late;
  double factor = 1.0;
};

struct RunPattern {
  static constexpr std::uint32_t no_beam = std::numeric_limits<std::uint32_t>::max();

  std::size_t marks = 0;                  ///< N
  std::size_t readings = 0;               ///< R
  std::vector<std::uint32_t> time_index;  ///< N, into RunPatterns::distances_m
  std::vector<std::uint32_t> beam_index;  ///< N, likewise; no_beam for none
  std::vector<double> weight;             ///< N, 1/sd^2
  std::vector<std::uint32_t> terms;       ///< qa, into RunPatterns::active
  std::vector<double> x;                  ///< N x qa, 0 or 1; some columns to be weighed at the sprint
  std::vector<WeighedColumn> weighed;
  std::vector<double> b;  ///< N x R
  std::vector<double> x_w_x, b_w_x, b_w_b;
  std::vector<double> scatter;      ///< N x N, W times the scatter within groups times W; empty without repeated runs
  std::vector<double> scatter_b;    ///< N x R
  std::vector<double> b_scatter_b;  ///< R x R
  double scatter_trace = 0.0;       ///< tr(W times the scatter)
  double log_det_d = 0.0;
  double runs = 0.0;
  std::vector<RunGroup> groups;

  /// What mark j has of values at RunPatterns::distances_m: less that at the beam.
  double at_mark(std::size_t j, std::span<const double> at_distances) const {
    return at_distances[time_index[j]] - (beam_index[j] != no_beam ? at_distances[beam_index[j]] : 0.0);
  }
  /// x at a sprint.
  void weigh(const SprintTimes& sprint, std::span<double> x_of_sprint) const;
};

/// Which pattern and day a run of PlayerData is of.
struct RunPlace {
  std::uint32_t run = 0, pattern = 0, day = 0;
};

struct RunPatterns {
  std::vector<std::uint32_t> active;  ///< terms that at least one reading depends on, ascending
  std::vector<double> distances_m;    ///< distinct, of marks and beams
  std::vector<RunPattern> patterns;
  std::vector<RunPlace> places;  ///< of the runs with a mark timed, in their order
  std::size_t days = 0;
  std::size_t mark_count = 0;
  std::uint32_t day_place = 0;  ///< place of the day term among the active ones
  std::uint32_t kept_day = 0;   ///< its day; `days` where there is none

  std::size_t widest() const;         ///< marks of a run, at most
  std::size_t most_readings() const;  ///< of a run
  bool weighs(Weigh by) const;        ///< some column
};

/// Cost: O(marks).
RunPatterns gather_patterns(const PlayerData& data);

}  // namespace bagsplit::inference
