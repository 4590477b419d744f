#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <map>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "bagsplit/motion/curve.hpp"
#include "random.hpp"

/// What is true in the invented world, and how a run and a reading come out of it.
///
///   y_j = f t(d_j) + [signal] RT_i + G + [contact] C + sum of L_k by mark j + b + e_start + e_j
///
///   symbol       meaning                                                                             unit
///   t(d)         straight sprint of this child on this date (`bagsplit::inference`)                     s
///   f            1 + form of the day + effort of the run, times the surface                          1
///   RT_i         reaction in this run                                                                s
///   G, C, L_k    get-up from prone, finish of the swing, loss on a base-path segment                 s
///   b            bias of this timer for the way this start was timed, reading minus truth            s
///   e_start, e_j error of the start press (shared by a reading's marks) and of each mark             s
namespace demo_season {

inline constexpr double base_distance_m = 60 * 0.3048;  // the international foot, exact by definition
inline constexpr double beam_start_m = 0.5;
inline constexpr std::size_t max_marks = 4;
inline constexpr std::uint64_t season_seed = 22;  // chosen, see README.md

/// One invented child. Sprint, reaction, costs and losses are those of the first date of the season.
struct Child {
  std::string id;
  std::string sex;                                                ///< "F", "M" or empty
  std::string born;                                               ///< ISO date or empty
  std::string height_cm, mass_kg, sitting_height_cm, bats, team;  ///< as written in the roster, empty where unknown
  bagsplit::motion::Sprint sprint{};
  double reaction_s = 0.0;
  double prone_cost_s = 0.0;
  double swing_finish_s = 0.0;
  std::map<std::string, double, std::less<>> segment_loss_s;
  double top_speed_gain = 0.0;      ///< relative change of V over the season, growth apart
  double time_constant_gain = 0.0;  ///< relative change of tau over the season
};

/// How the clock was started; the bias of a hand watch depends on it.
enum class Cue { gives_call, hears_call, sees_first_move, sees_contact, gate };
inline constexpr std::size_t cue_count = 5;
std::string_view cue_name(Cue cue);

struct Timer {
  std::string id;
  std::array<std::optional<double>, cue_count> bias_s;  ///< by Cue, reading minus truth
};

/// Error parameters common to the squad and to the kind of device.
struct Common {
  double effort_cv = 0.018;
  double day_cv = 0.012;
  double reaction_sd_s = 0.045;
  double growth_per_year = 0.03;  ///< relative growth of V, everybody's
  double move_lag_s = 0.14;       ///< a `move` mark waits for what the timer sees; a finish is anticipated
  double watch_start_sd_s = 0.055, watch_split_sd_s = 0.05, watch_resolution_s = 0.01;
  double gate_start_sd_s = 0.003, gate_split_sd_s = 0.008, gate_resolution_s = 0.001;
};

/// A segment of a course: the mark at its end, its distance in base distances, the key of its loss (empty for none).
struct Leg {
  std::string_view mark;
  double bases;
  std::string_view loss_key;
};
/// Legs of a base-path course of the invented season. @throws std::invalid_argument for a course it does not know.
std::span<const Leg> legs_of(std::string_view course);

enum class Start { signal, self, beam, contact };
std::string_view start_text(Start start);  ///< as in the log: "signal", "self", "beam 0.5 m", "contact"

/// One mark of a drill, resolved: where it lies and what has been lost on the way there.
struct Mark {
  std::string name;
  double distance_m = 0.0;  ///< 0 for `move`
  double lost_s = 0.0;
  bool is_move = false;
};
/// Marks by name for a course and a child (a bag, a distance such as "12yd", or `move`). @throws std::invalid_argument.
std::vector<Mark> marks_of(std::string_view course, std::span<const std::string> names, const Child& child);

/// What one effort was in truth.
struct Effort {
  double factor = 1.0;      ///< f
  double reaction_s = 0.0;  ///< RT_i; 0 where the start does not include it
};

/// The child's sprint on a date. @param season_share 0 on the first date, 1 on the last. @param years since the first
/// date.
bagsplit::motion::Sprint sprint_on(const Child& child, double season_share, double years, const Common& common);

/// True times at the marks by a clock without error [s]. @param times_s as many as marks.
void true_times(const bagsplit::motion::Sprint& sprint, std::span<const Mark> marks, Start start, const Effort& effort,
                double cost_s, std::span<double> times_s);

/// One timer's readings of true times, before rounding [s].
void read_times(std::span<const Mark> marks, std::span<const double> true_s, double bias_s, bool gate,
                const Common& common, Stream& stream, std::span<double> read_s);

}  // namespace demo_season
