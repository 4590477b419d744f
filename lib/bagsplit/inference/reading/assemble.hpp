#pragma once

#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <utility>
#include <vector>

#include "bagsplit/inference/prior/model.hpp"
#include "bagsplit/inference/prior/prior.hpp"
#include "bagsplit/inference/reading/player_data.hpp"
#include "bagsplit/runs/player.hpp"
#include "bagsplit/runs/run.hpp"
#include "bagsplit/timing/device.hpp"
#include "bagsplit/timing/reading_error.hpp"

/// From runs with names to numbers the model can take: one player's readings, linear terms and priors.
namespace bagsplit::inference {

/// Least error of a split: 0 would make the covariance singular, and let two clocks contradict each other.
inline constexpr double smallest_split_sd_s = 1e-4;

enum class TermKind : std::uint8_t {
  reaction,     ///< RT
  swing,        ///< C
  posture,      ///< G
  loss,         ///< L_k
  bias_shared,  ///< part of b that all timers of a device and start share
  bias_timer,   ///< part of b that is the timer's own
  bias_event,   ///< lag of a press at a mark, where a `move` mark needs it apart from the rest of b
  move_lag,     ///< lag of a press at the first move
  day_form,     ///< form of the last day
  bias_many,    ///< biases of all further timers together, when there are more than the model can keep apart
};

struct Term {
  TermKind kind = TermKind::reaction;
  std::string name;             ///< posture word, segment key, or "AK, stopwatch, hears-signal"
  bool hand_on_signal = false;  ///< of a bias: of a hand watch, started on a signal that its timer hears or gives

  bool operator==(const Term&) const = default;
};

/// Names of the segments of each course in the log, as indices into one list.
class SegmentNames {
 public:
  explicit SegmentNames(const runs::RunLog& log);
  const std::vector<std::string>& keys() const { return keys_; }
  /// Index into keys() of segment s of course c.
  std::uint32_t key_of(std::uint16_t course, std::size_t segment) const { return of_course_[course][segment]; }

 private:
  std::vector<std::string> keys_;
  std::vector<std::vector<std::uint32_t>> of_course_;
};

/// Which runs of a player enter, and what was left out and why.
struct Selection {
  std::vector<std::uint32_t> used;  ///< indices into RunLog::runs
  std::vector<std::pair<runs::Flag, std::size_t>> flagged;
  std::size_t outside_window = 0;
  std::size_t relay = 0;
  std::size_t heat = 0;  ///< in heats: their order tells, see RunLog::heats
  std::size_t empty = 0;
  std::optional<runs::Date> first, last;
  std::size_t dates = 0;
};

/// @param as_of        later runs are left out.
/// @param window_days  only runs of so many days up to as_of, or up to the player's last run.
Selection select_runs(const runs::RunLog& log, std::span<const std::uint32_t> runs_of_player,
                      std::optional<runs::Date> as_of, std::optional<int> window_days);

/// One player's data for the model, with the names of its linear terms.
struct Assembled {
  inference::PlayerData data;              ///< the sprint's prior without the doubt of its level
  LogSprint log_sprint;                    ///< what is believed of it, with that doubt
  std::vector<Term> terms;                 ///< same order as data.terms
  std::vector<std::uint8_t> hand;          ///< one a reading of data: 1 when a hand pressed
  std::vector<std::uint32_t> log_reading;  ///< one a reading of data: into RunLog::readings
  std::size_t readings = 0;
  bool ages_alike =
      false;  ///< no age, and none of most others: the squad's model takes what that leaves open as common
  bool any_distance = false;  ///< some reading depends on V and tau
  bool bias_told = false;     ///< gate or video, `move` marks or `self` starts tell reaction from timer bias
  std::optional<double> base_distance_m;      ///< most used; the larger of equals
  std::vector<std::uint16_t> courses;         ///< base-path courses with losses, in order of first use
  std::vector<runs::Posture> postures;        ///< other than standing, in order of first use
  std::optional<timing::ReadingError> watch;  ///< error of the most used hand timer on a signal start, for advice

  std::optional<std::uint32_t> find(TermKind kind, std::string_view name = {}) const;
};

/// The data of a player of whom no squad tells the level.
PlayerData alone(const Assembled& assembled);

/// Prior of a segment's loss where neither model file nor best path gives one: the default model's, found by the key,
/// then without `-reverse`, then without `-from-rest`.
inference::Normal default_segment_loss(const inference::ModelFile& defaults, std::string_view key);

/// @param prior     with what the model file says of it, as with_model().
/// @param model     what the user fixed.   @param defaults  the built-in model.
Assembled assemble(const runs::RunLog& log, const SegmentNames& segments, std::span<const std::uint32_t> used,
                   const runs::Player* player, const inference::SprintPrior& prior, const timing::DeviceBook& devices,
                   const inference::ModelFile& model, const inference::ModelFile& defaults);

}  // namespace bagsplit::inference
