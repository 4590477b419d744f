#pragma once

#include <cstdint>
#include <functional>
#include <optional>
#include <span>
#include <vector>

#include "bagsplit/inference/prior/model.hpp"
#include "bagsplit/inference/prior/prior.hpp"
#include "bagsplit/motion/curve.hpp"

/// One player's readings as the model sees them: numbers only, names left behind.
///
/// A reading at mark j of run i is  y = T_i(d_j) + sum of its linear terms + noise  (module README, "What a reading
/// is"). T is the sprint's time; the linear terms (reaction, posture cost, swing finish, losses, timer biases, observer
/// lag) enter each mark with coefficient 0 or 1, told by a bit mask; some with what the sprint makes of them (Weigh).
namespace bagsplit::inference {

inline constexpr std::size_t max_linear_terms = 64;

/// One time at one mark.
struct MarkData {
  double distance_m = 0.0;  ///< nominal path distance [m], >= 0; 0 for a `move` mark (T = 0 there)
  double time_s = 0.0;      ///< cumulative time, known offsets already taken off [s]
  double sd_s = 0.0;        ///< whole per-split error s_split of this mark, rounding included [s], > 0
  std::uint64_t terms = 0;  ///< bit k set: linear term k enters this mark
};

struct ReadingData {
  std::uint32_t first_mark = 0;  ///< into PlayerData::marks
  std::uint32_t mark_count = 0;
  double beam_m = 0.0;      ///< x0 of a `beam` start; 0 otherwise
  double start_sd_s = 0.0;  ///< s_start
  bool signal = false;      ///< reaction is in the time, and its scatter s_RT with it
  bool checked = false;     ///< somebody has looked again and stands by it: slips are rarer by checked_share
};

/// What a term counts for in a time over a distance: 1, or what the sprint makes of it.
enum class Weigh : std::uint8_t {
  full,
  late,   ///< dT/dk: what late slowing is more than the k that T is computed with
  beam,   ///< dT/dx0: how much farther from the beam the runner stood
  order,  ///< T times RunData::runs_before
  run,    ///< T
};

struct RunData {
  std::uint32_t first_reading = 0;  ///< into PlayerData::readings
  std::uint32_t reading_count = 0;
  std::uint32_t day = 0;     ///< any label; runs with the same label share the form of the day
  double runs_before = 0.0;  ///< of the same evening; alike runs have what they have on average
};

struct PlayerData {
  // Priors.
  Normal log_top_speed;          ///< log V
  Normal log_time_constant;      ///< log tau
  std::vector<Normal> terms;     ///< linear terms, at most max_linear_terms
  double log_correlation = 0.0;  ///< of log V and log tau, in (-1, 1)
  // What a squad's model adds to independent priors of the terms; empty: independent.
  std::vector<double> term_slopes;  ///< 2 a term: its mean given the sprint is terms[k].mean + slopes[2k] (log V - its
                                    ///< mean) + slopes[2k + 1] (log tau - its mean)
  std::vector<double> term_correlation;  ///< of the terms given the sprint, terms x terms, positive definite
  /// A term that is the form of one day, delta with prior SD day_cv: it multiplies T on that day's runs, so no mark's
  /// mask names it. With it, what a player would run on that very day can be told.
  std::optional<std::uint32_t> day_term;
  std::uint32_t day_term_day = 0;
  double late_slowing_per_s = 0.0;  ///< k that T is computed with
  /// What each term is weighed by at the marks that name it; a term beyond the end counts in full.
  std::vector<Weigh> weighs;
  Weigh weigh_of(std::uint32_t term) const { return term < weighs.size() ? weighs[term] : Weigh::full; }
  std::optional<std::uint32_t> late_term() const;  ///< k less late_slowing_per_s
  // Noise common to all runs.
  double effort_cv = 0.0;      ///< cv
  double day_cv = 0.0;         ///< cv_day
  double reaction_sd_s = 0.0;  ///< s_RT
  SlipPrior slips;
  // Readings.
  std::vector<RunData> runs;
  std::vector<ReadingData> readings;
  std::vector<MarkData> marks;

  /// Starts a run; its readings follow.
  void add_run(std::uint32_t day);
  /// Adds a reading, with its marks, to the last run.
  void add_reading(bool signal, double beam_m, double start_sd_s, std::span<const MarkData> reading_marks);

  void clear_readings();
};

/// A player's sprints with the late slowing of the data, as the curve bears it up to the farthest mark, and over any
/// circuit.
class SlowingSprints {
 public:
  explicit SlowingSprints(const PlayerData& data);
  motion::Sprint operator()(double top_speed_mps, double time_constant_s) const;

 private:
  double late_slowing_per_s_, farthest_m_;
};

/// Time of such a sprint over any distance.
inline double straight_time_s(const motion::Sprint& sprint, double distance_m) {
  return motion::time_to_distance(motion::slowing_up_to(sprint, distance_m), distance_m);
}

/// What a term counts for at a mark that names it.  @param distance_m  above 0 but for a term that counts in full.
double coefficient_of(const PlayerData& data, std::uint32_t term, const motion::Sprint& sprint, double beam_m,
                      double distance_m, double runs_before = 0.0);

/// Puts what is believed of (log V, log tau) into the data.  @param level  with the doubt of the level that all
/// children share: for a player alone. Where a squad's model has that as a quantity of its own, without.
void set_sprint_prior(PlayerData& data, const LogSprint& prior, bool level);

/// Of a sum of linear terms, before the player's own readings: how it goes with the sprint, and what is left of its
/// variance given that. With a squad's model this is what all others have told; `share_from_data` compares with it.
struct PriorOfTerms {
  double on_log_top_speed = 0.0, on_log_time_constant = 0.0;
  double variance_given_sprint = 0.0;
};
/// @param coefficients  of the terms; none: all 1.
PriorOfTerms prior_of_terms(const PlayerData& data, std::span<const std::uint32_t> terms,
                            std::span<const double> coefficients = {});

inline constexpr double checked_share = 0.02;

/// How many slips there could be, in parts of the rate at a mark.
double chances_of_slips(const PlayerData& data);

/// The whole variance of that sum.
double prior_variance_of_terms(const PlayerData& data, std::span<const std::uint32_t> terms);

/// Prior means of the linear terms where they depend on the sprint (losses against the best path). Called with the
/// constants of PlayerData already in place; may overwrite any of them.
using TermMeans = std::function<void(const motion::Sprint&, std::span<double>)>;

/// @throws std::invalid_argument / std::domain_error naming the first thing that cannot be: too many terms, a term bit
/// without a term, a run or reading that points past the end, a joint prior that is not finite, a non-finite time, sd
/// <= 0, a negative cv.
void validate(const PlayerData& data);

}  // namespace bagsplit::inference
