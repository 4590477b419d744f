#pragma once

#include <cstddef>
#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <utility>
#include <variant>
#include <vector>

#include "bagsplit/inference/posterior/posterior.hpp"
#include "bagsplit/inference/prior/model.hpp"
#include "bagsplit/jobs/profile/suspected.hpp"
#include "bagsplit/runs/player.hpp"
#include "bagsplit/runs/run.hpp"
#include "bagsplit/timing/device.hpp"
#include "bagsplit/timing/official_time.hpp"

/// Evaluation day: the players in order, with how sure the order is, who is in at a cut, and who should run again.
/// Definitions and formulas: README.md in this folder.
namespace bagsplit::jobs {

enum class Quantity : std::uint8_t { time, reaction, acceleration, top_speed, path_efficiency };

/// One quantity to order by.
struct RankedQuantity {
  Quantity quantity = Quantity::time;
  std::string mark, course;  ///< of a time; of path efficiency the course; empty: the one most players have
  double weight = 1.0;       ///< in an index, > 0
};

/// "time:first@home-first", "time:first", "reaction", "acceleration", "top-speed", "path-efficiency",
/// "path-efficiency@circuit"; nothing for another word.
std::optional<RankedQuantity> ranked_quantity_of(std::string_view text);
/// The same back: "time:first@home-first".
std::string word_of(const RankedQuantity& quantity);
/// "s", "m/s2", "m/s", or nothing.
std::string_view unit_of(Quantity quantity);
bool lower_is_better(Quantity quantity);

enum class StandingsMethod : std::uint8_t {
  estimate,  ///< ability as all runs tell it
  best,      ///< official best time: rule-book times of hand watches, ties shared
};

/// What equal official times do.
enum class Ties : std::uint8_t {
  shared,   ///< share a place, as the rule book has it
  as_read,  ///< come in the order of the times as read, to 0.01 s: not the rule book's
};
std::string_view word_of(Ties ties);

struct AgeSpan {
  int from = 0, to = 0;  ///< whole years, both included
};

struct StandingsOptions {
  std::vector<RankedQuantity> by;  ///< one, or the weighted parts of an index
  StandingsMethod method = StandingsMethod::estimate;
  Ties ties = Ties::shared;          ///< of official times
  bool age_adjusted = false;         ///< by the z-score against what the published tables lead to expect at age and sex
  bool age_groups = false;           ///< one order for each league age, or span of them
  std::vector<AgeSpan> age_spans;    ///< none: every year for itself
  std::optional<runs::Date> age_on;  ///< the day the league age is taken; none: the last run of all
  std::optional<std::size_t> cut;    ///< places in each order, at least 1
  double certainty = 0.95;           ///< of "in", "out", and of a step between tiers; in (0.5, 1)
  std::size_t next_runs = 0;         ///< further runs to give; needs a cut
  std::size_t most_each = 3;         ///< of them one player may get
  double level = 0.9;                ///< of all intervals
  std::optional<runs::Date> as_of;
  std::optional<int> window_days;
  inference::ModelFile model;  ///< what it gives is fixed
  bool fixed_scales = false;   ///< with a model: its scales, or the default model's, are taken as known
  std::size_t draws = 4000;    ///< fewer with very many players: 40 million values, but 400 draws at the least
  std::uint64_t seed = 20260411;
  unsigned threads = 1;  ///< 0: as many as the machine has; the answer does not depend on it
};

enum class CutStatus : std::uint8_t { in, out, undecided };
std::string_view word_of(CutStatus status);

/// Official best of a player.
struct BestTime {
  double time_s = 0.0;      ///< as read
  double recorded_s = 0.0;  ///< as the rule book records it
  timing::TimingClass timing_class = timing::TimingClass::hand;
  std::size_t watches = 0;  ///< of that run
  std::size_t runs = 0;     ///< with a time of this class
  runs::Date date{};
  std::size_t place = 0;  ///< in its order; equal recorded times share it, with Ties::as_read equal times as read
  bool tied = false;
  bool parted_as_read = false;  ///< equal to a neighbour's recorded time, and placed by the time as read
};

struct NamedPart {
  std::string name;  ///< word_of()
  inference::Estimate value;
};

struct Standing {
  std::string player;
  std::size_t group = 0;            ///< into StandingsResult::groups
  std::size_t place = 0;            ///< in the group, from 1
  std::optional<double> age_years;  ///< at the last run used
  std::optional<int> league_age;
  std::optional<runs::Sex> sex;
  std::size_t runs_used = 0;            ///< all that tell something
  std::size_t runs_of_course = 0;       ///< with the time ordered by; 0 where no one time is
  std::size_t heats = 0;                ///< finishing orders of that time with this player
  inference::Estimate value;            ///< what the order is of: in the quantity's unit, or a z-score, or an index
  std::vector<NamedPart> parts;         ///< the quantities behind a z-score or an index
  double expected_rank = 0.0;           ///< in the group
  double rank_lo = 0.0, rank_hi = 0.0;  ///< interval of the rank
  std::optional<double> p_in_cut;       ///< not nearer to 0 or 1 than the draws can show
  std::size_t tier = 1;
  std::optional<CutStatus> status;
  std::optional<BestTime> best;
  std::vector<std::string> timers;                     ///< who timed the runs used; "" where not named
  std::optional<double> probability_all_readings_fit;  ///< none: every reading counts in full
  /// In or out would be sure, but for one row that may be wrong: one more run settles it.
  std::optional<HangsOn> hangs_on;
};

struct StandingsGroup {
  std::string name;  ///< "9", "7-8"; empty without age groups
  std::size_t players = 0;
  std::optional<std::size_t> cut;
  /// Of the players (players - 1) / 2 pairs, those whose order has at least the probability `certainty`, compared in
  /// joint draws, with none that hang on one row that may be wrong; none by official times and above 400 players.
  std::optional<std::size_t> sure_pairs;
};

struct NotRanked {
  std::string player;
  std::string why;
};

/// A player's flagged runs, of whom some may be owed another: over the course of the time ordered by, where there is
/// one.
struct FlaggedRuns {
  std::string player;
  std::size_t valid_runs = 0;  ///< that count, over the same course
  std::vector<std::pair<runs::Flag, std::size_t>> flagged;
};

struct MoreRuns {
  std::string player;
  std::size_t runs = 0;
  std::string course;  ///< of the run meant
};

/// What the further runs are worth. A wrong cut: a player put on the wrong side of the line.
struct RunsWorth {
  double now = 0.0;                ///< expected wrong cuts without them
  double after = 0.0;              ///< with them, run on the last date
  double after_another_day = 0.0;  ///< with as many, run on a date of their own
};

/// How a part of an index is turned into a number without unit.
struct IndexScale {
  std::string name;
  double weight = 1.0;
  double mean = 0.0, sd = 0.0;  ///< of the players, as believed; 0 and 1 for a z-score
};

/// The conditions of a time.
struct TimeConditions {
  double distance_m = 0.0;
  std::optional<double> base_distance_m;
  runs::StartKind start = runs::StartKind::signal;
  double beam_m = 0.0;
  runs::Posture posture = runs::Posture::standing;
};

/// Finishing orders of the time ordered by.
struct HeatsSummary {
  std::size_t heats = 0, runs = 0;
  std::size_t without_time = 0;                  ///< players in them with no run of their own that counts
  bool any_time = false;                         ///< some run or finisher was timed: without, an order has no seconds
  std::size_t most_of_one_child = 0;             ///< heats
  bool same_again = false;                       ///< the same children together in every round
  std::vector<std::vector<std::string>> groups;  ///< linked by chains of shared heats or by times of their own
  std::vector<std::pair<std::string, std::size_t>> heats_of;  ///< by player
  std::vector<std::vector<std::string>> fields;               ///< who ran together, each set once
};

struct StandingsResult {
  std::vector<RankedQuantity> by;      ///< complete: courses filled in
  std::string by_word;                 ///< "time:first@home-first", "index"
  std::optional<TimeConditions> time;  ///< of the time ordered by, where there is just one
  bool lower_is_better = false;
  bool age_adjusted = false;
  bool age_groups = false;
  std::optional<runs::Date> age_on;
  std::optional<HeatsSummary> heats;  ///< where finishing orders are part of it
  StandingsMethod method = StandingsMethod::estimate;
  Ties ties = Ties::shared;
  std::vector<StandingsGroup> groups;  ///< by age; one without age groups
  std::vector<Standing> players;       ///< by group, then place
  std::vector<NotRanked> not_ranked;
  std::vector<FlaggedRuns> flagged;                  ///< fewest valid runs first, then by id
  std::vector<MoreRuns> next_runs;                   ///< most first
  std::vector<std::vector<std::string>> next_heats;  ///< the same as heats, lots drawn; where heats are part of it
  std::size_t next_runs_asked = 0, most_each = 0;
  std::vector<std::string> first_run;  ///< players without a run that counts: they come first of all
  std::optional<RunsWorth> worth;
  std::vector<IndexScale> index;
  double certainty = 0.95, level = 0.9;
  std::size_t draws = 0;
  std::uint64_t seed = 0;
  SuspectedReadings suspected;
  std::size_t runs_used = 0, runs_left_out = 0;
  std::optional<runs::Date> first_date, last_date;
  inference::ModelFile model;  ///< error parameters in use
  bool certified = true;       ///< false: for some player the computation would not settle
  std::vector<std::string> notes;
  std::vector<std::string> cautions;
};

/// A quantity that cannot be ordered by: what is wrong, for people.
struct StandingsRefusal {
  std::string why;
};

/// @param log  every row without an error.   @param roster  build_index() called.
/// @return the standings, or why the words of `by` fit nothing in the log.
/// @throws std::domain_error for a level, certainty or number outside its range.
/// Cost: 0.4-0.6 ms a player and 10 microseconds a draw and 100 players.
std::variant<StandingsResult, StandingsRefusal> standings(const runs::RunLog& log, const runs::Roster& roster,
                                                          const timing::DeviceBook& devices,
                                                          const StandingsOptions& options);

}  // namespace bagsplit::jobs
