#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

/// What a coach's grid shows: for each child and quantity the seconds it costs or wins, and one of four marks. Text,
/// CSV, JSON and pages draw from these, so that no number contradicts its mark.
namespace bagsplit::jobs {

struct PlayerProfile;
struct ProfileResult;
struct SeasonTrend;

enum class Mark : std::uint8_t {
  work,      ///< surely time to win
  good,      ///< surely a strength
  ordinary,  ///< fine, or too close to say
  unknown    ///< not known yet
};

/// Why a quantity is not known yet.
enum class Unknown : std::uint8_t {
  none,
  never_timed,   ///< no run of this child bears on it
  few_runs,      ///< less than half is the child's own, or the range is wide
  no_age,        ///< it hangs on the age, and there is no birth date
  few_children,  ///< fewer than three to compare with
  one_time,      ///< to win by the numbers, but that hangs on one row
  clock,         ///< of the start: when the clock started is in doubt
  two_dates,     ///< of a change: not seen early and late
};

/// One column of the grid. A quantity stands at its place in `marked_quantities`.
struct MarkedQuantity {
  std::string_view what;     ///< stable code: "call", "first", ...
  std::string_view heading;  ///< of a narrow column
  std::string_view words;    ///< "rounding first"
  double surely_s = 0.0;     ///< the whole range beyond this, either side, is sure
  double wide_s = 0.0;       ///< half a range above this tells nothing yet
  bool at_bag = false;       ///< seconds beyond the child's own best way round; else beside this squad at that age
};

/// The limits are rules of ours, no source; tests/squad_calibration shows how often sure marks are right.
inline constexpr std::array marked_quantities = std::to_array<MarkedQuantity>({
    {"call", "call", "the call", 0.0, 0.12, false},
    {"get-up", "get-up", "getting up", 0.0, 0.20, false},
    {"first-steps", "steps", "the first steps", 0.03, 0.15, false},
    {"speed", "speed", "full speed", 0.03, 0.20, false},
    {"first", "1st", "rounding first", 0.10, 0.15, true},
    {"second", "2nd", "rounding second", 0.10, 0.15, true},
    {"third", "3rd", "rounding third", 0.10, 0.15, true},
    {"home", "home", "third to home", 0.10, 0.15, true},
    {"change", "change", "since the first evenings", 0.0, 0.0, false},
});
inline constexpr std::size_t change_quantity = marked_quantities.size() - 1;

struct Marked {
  Mark mark = Mark::unknown;
  Unknown why = Unknown::never_timed;
  /// Seconds to win; below 0 seconds won. To 0.01 s. None where nothing can be said at all.
  std::optional<double> cost_s;
  std::optional<double> give_or_take_s;  ///< half of the range that holds nine times in ten, rounded up to 0.01 s
};
using Marks = std::array<Marked, marked_quantities.size()>;

/// The mark that a number has: work where cost less give is above the limit, good where cost plus give is below its
/// opposite, else ordinary, or unknown where the range is wide.
Marked marked(const MarkedQuantity& quantity, double mean_s, double sd_s);

/// What to work on, with a drill from common practice.
struct WorkOn {
  std::string what;   ///< code of the quantity
  std::string text;   ///< one sentence for a coach
  std::string drill;  ///< "the wide turn"
  std::string how;    ///< what is done, one sentence or two
  std::size_t runs = 0;
  double rest_s = 0.0;  ///< between two, at least, at this age
};

/// Where a child stands in the grid, first to last.
enum class MarkGroup : std::uint8_t { to_win, not_known, strengths, ordinary };

/// Fills marks and work_on of every player but the change. Call, get-up, first steps and speed are held against the
/// middle of the squad, each child beside what is usual at its age (get-up: beside the squad's line over age).
void mark_squad(ProfileResult& result);

/// Fills the mark of the change: surely faster, surely slower, or neither.
void mark_changes(ProfileResult& result, const SeasonTrend& trend);

/// Columns in which somebody was timed, as places in marked_quantities.
std::vector<std::size_t> timed_quantities(const ProfileResult& result);

MarkGroup group_of(const PlayerProfile& player, const std::vector<std::size_t>& timed);

/// Places in result.players by what matters: most time to win, then not known yet, then strengths, then nothing
/// special; within a group by id.
std::vector<std::size_t> by_what_matters(const ProfileResult& result, const std::vector<std::size_t>& timed);

std::string_view mark_word(Mark mark);       ///< "work", "good", "ordinary", "unknown"
std::string_view unknown_word(Unknown why);  ///< "few-runs", ...; empty for none

}  // namespace bagsplit::jobs
