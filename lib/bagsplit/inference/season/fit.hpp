#pragma once

#include <memory>
#include <optional>
#include <vector>

#include "bagsplit/inference/season/options.hpp"
#include "bagsplit/inference/season/season.hpp"
#include "bagsplit/inference/season/verdict.hpp"
#include "bagsplit/stats/interval.hpp"

/// The season of a squad fitted as one: who changed, by how much beyond growth, where everybody stands on any day.
/// Model, symbols, priors and their sources: README.md. Effects + are slower; shares are of moving time.
namespace bagsplit::season {

struct Estimate {
  double mean = 0.0;
  double sd = 0.0;
};

/// An effect that the whole squad shares.
struct SharedEffect {
  Estimate value = {};
  double share_from_data = 0.0;  ///< 1 - posterior variance / prior variance
};

enum class Shared { evening, timer, device, ground };

struct SuspectedReading {
  int reading = 0;                       ///< index into Season::readings
  double p = 0.0;                        ///< P(slip)
  double size_s = 0.0, size_sd_s = 0.0;  ///< read less what would fit, and SD of what would fit
};

/// All times of a child on one evening, as with a wrong bib.
struct SuspectedEvening {
  int child = 0;
  int date = 0;
  double p = 0.0;
};

/// One child from the early to the late dates, in seconds of a level.
struct Change {
  int child = 0;
  bool seen_early_and_late = false;
  Verdict verdict = Verdict::no_sign;
  double change_s = 0.0;                       ///< all of it: growth, the squad's move, beyond
  stats::Interval interval_s{};                ///< equal tails at Options::interval_level, with prior odds of change
                                               ///< Options::interval_odds, so that it holds for a child that did change
  Estimate growth_s = {};                      ///< of that age and sex; SD: a child's own rate about it
  Estimate beyond_growth_s = {};               ///< beyond growth and the squad's common move
  stats::Interval beyond_growth_interval_s{};  ///< drawn as interval_s
  double p_changed = 0.0, p_faster = 0.0, p_slower = 0.0;  ///< beyond growth and the squad's common move
  double p_faster_worth = 0.0, p_slower_worth = 0.0;       ///< by Options::worth or more
  double p_as_growth = 0.0;                                ///< by less than that
  double p_total_faster = 0.0;                             ///< growth and the squad's move counted in
  double conditions_s = 0.0;  ///< what wind, ground, timers and evenings are reckoned to have added to the late times
                              ///< beside the early ones
  /// Given that it changed: P of a line through the season, and of a step just before each date but the first.
  double p_line = 0.0;
  std::vector<double> p_step_before = {};
  /// Given that it changed, with Options::parts: P that only top speed did, or only first acceleration.
  double p_top_speed = 0.0, p_first_acceleration = 0.0;
};

struct Squad {
  Scales scales = {};  ///< of evenings, form and effort
  double share_changed = 0.0;
  double usual_size = 0.0;  ///< of a change, share
  double slip_rate = 0.0;
  Estimate common_move = {};      ///< of the whole squad beyond growth, from the early to the late dates, share
  SharedEffect wind_factor = {};  ///< what the drag said is to be multiplied by, less 1
  /// The least change through the season that the middle child would be told as probable with chance 0.8; none where
  /// nobody was timed.
  std::optional<double> smallest_detectable = {};
  int reference_level = 0;
};

/// Ability at a level on a day: the time such a run takes on an ordinary evening, by a watch without bias [s].
struct Ability {
  Estimate time_s = {};
  stats::Interval interval_s{};
};

class Fit {
 public:
  const Squad& squad() const;
  std::vector<SuspectedReading> suspected(double p_at_least = 0.5) const;
  std::vector<SuspectedEvening> suspected_evenings(double p_at_least = 0.5) const;
  SharedEffect shared(Shared kind, int index) const;
  Estimate difference(Shared kind, int from, int to) const;  ///< of two evenings, grounds, ...: to less from

  /// All children, in order, between the first and the last third of the dates (one date each where there are three or
  /// fewer), with verdicts. A child without readings has only `child` and its verdict.
  std::vector<Change> changes() const;
  /// The same between two windows of dates, indices ascending; neither may be empty.
  std::vector<Change> changes(const std::vector<int>& early, const std::vector<int>& late) const;
  /// What the whole squad did beyond growth between two windows of dates, share; Squad has it for the thirds.
  Estimate common_move(const std::vector<int>& early, const std::vector<int>& late) const;
  /// @param ground  the ground meant; none: no ground in particular, so that the doubt about grounds is in the answer.
  /// None where the child has no reading at that level, or none on that ground.
  std::optional<Ability> ability(int child, int level, double day, std::optional<int> ground = {}) const;

  /// A child's ability on a day less its mean over the dates, each weighted: as Ability, but shares of the moving time
  /// at a level, and the SD that of the interval, about the mean.
  /// @param date_weights  one a date, sum 1.   The child must have a reading.
  Ability lead(int child, int level, double day, const std::vector<double>& date_weights) const;

  struct State;
  explicit Fit(std::shared_ptr<const State> state);

 private:
  std::shared_ptr<const State> state_;
};

/// @throws std::invalid_argument for a season that cannot be compared (one date, no readings, an index that points
/// nowhere), std::domain_error for a number out of bounds.
/// Cost: README.md. Deterministic; the same bits for any Options::threads.
Fit fit_season(Season season, Options options = {});

}  // namespace bagsplit::season
