#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <map>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "bagsplit/runs/run.hpp"
#include "bagsplit/text/problem.hpp"

/// What a timing device does to a time: bias, scatter, resolution, by how the start of the clock was timed; and who
/// says so.
///
/// Signs: an error is reading minus truth, so a negative bias means that the device reads fast (short). A lag is the
/// moment recorded minus the moment of the event, so a positive lag means late. A late start press shortens a time, an
/// early stop press shortens it too.
namespace bagsplit::timing {

/// How the start of a clock was timed. The word in the files stands behind it.
enum class StartTiming : std::uint8_t {
  hears_signal,      ///< "hears-signal": the timer presses on hearing (or seeing) somebody else's signal
  gives_signal,      ///< "gives-signal": the timer calls and presses together
  automatic_signal,  ///< "automatic-signal": the signal itself starts the clock, or is on the recording
  first_move,        ///< "first-move": a press, trigger or frame at the player's first move
  beam,              ///< "beam": the runner passes a beam (or a line) already moving
  contact,           ///< "contact": bat contact
};
inline constexpr std::size_t start_timing_count = 6;
std::string_view start_timing_name(StartTiming timing);

/// What the timer does with a start signal. Decides which StartTiming a `signal` start is.
enum class SignalRole : std::uint8_t {
  unknown,  ///< hears or gives it, nobody said: both are thought equally likely
  hears,
  gives,
  automatic,  ///< no person between the signal and the clock
};

enum class Rounding : std::uint8_t { nearest, up };

/// How far a value can be trusted, as its source was read.
enum class Evidence : std::uint8_t { read, secondary, derived, common_practice, memory, own };
std::string_view evidence_name(Evidence evidence);

struct Provenance {
  Evidence evidence = Evidence::own;
  std::vector<std::string> sources;  ///< keys into DeviceProfile::sources
  std::string note;
};

/// A bias: reading minus truth [s], with what is not known about it.
struct BiasPrior {
  double mean_s = 0.0;
  double sd_s = 0.0;        ///< whole uncertainty about the mean
  double timer_sd_s = 0.0;  ///< the part of it that is each timer's own; at most sd_s. The rest is shared by all timers
  Provenance why;
};

/// A lag of one press, trigger or frame: moment recorded minus moment of the event [s].
struct LagPrior {
  double mean_s = 0.0;
  double sd_s = 0.0;
  Provenance why;
};

/// Scatter of one event from run to run [s], and the span the sources give for it.
struct ErrorSd {
  double value_s = 0.0;
  double low_s = 0.0;
  double high_s = 0.0;
  Provenance why;
};

/// What is known of a device, or of one timer with it. What a timer leaves out is the device's.
struct TimingNumbers {
  std::optional<SignalRole> signal;
  std::array<std::optional<BiasPrior>, start_timing_count> bias;
  std::array<std::optional<ErrorSd>, start_timing_count> start_sd;  ///< of the start press, without resolution
  std::optional<ErrorSd> split_sd;                                  ///< of a press at a mark, without resolution
  std::optional<LagPrior> mark_lag;                                 ///< of a press at a mark
  std::optional<LagPrior> move_lag;                                 ///< of a press at the first move
};

struct TimerNumbers {
  std::string timer;  ///< as in the run log
  TimingNumbers numbers;
};

struct DeviceProfile {
  std::string name;   ///< "stopwatch", "gate-single-beam", "video-240", ...
  std::string title;  ///< for people
  std::string about;  ///< for people: what it is and what to mind
  runs::Device device = runs::Device::stopwatch;
  double resolution_s = 0.01;             ///< step of the times written down; 1 / frames_per_s on video
  Rounding rounding = Rounding::nearest;  ///< of a time to that step
  std::optional<double> frames_per_s;     ///< video: start and stop are both known to one frame only
  Provenance resolution_why;
  TimingNumbers numbers;                                    ///< complete once read
  std::vector<TimerNumbers> timers;                         ///< in the order of their names
  std::map<std::string, std::string, std::less<>> sources;  ///< key -> citation

  const TimingNumbers* timer(std::string_view name) const;  ///< nullptr when the file does not know this timer
};

/// What a profile may leave out.
enum class Completeness : std::uint8_t {
  whole,         ///< nothing: every number is in the file
  from_builtin,  ///< anything: taken from the built-in profile named by `based-on`, or the default one of its device
};

/// Reads a device profile (JSON, schema `bagsplit.device/1`, data/schemas/device.schema.json). Unknown and duplicate
/// names, wrong types, negative SDs, a source that is not listed: all reported in one pass with their places.
/// @return the profile; unusable when `problems` gained an error.
DeviceProfile read_device(std::string_view text, std::string_view path, text::Problems& problems,
                          Completeness completeness = Completeness::from_builtin);

/// The profiles in use, by name. Starts with the built-in ones (data/devices).
class DeviceBook {
 public:
  DeviceBook();
  /// Adds a profile, in place of one with the same name; it becomes the default for its device.
  void add(DeviceProfile profile);
  const DeviceProfile* find(std::string_view name) const;
  /// The profile for a run log that names only the kind of device: the last one added, or the cautious built-in choice
  /// (stopwatch; a gate with one beam; video at 30 frames a second).
  const DeviceProfile& default_for(runs::Device device) const;
  const std::vector<DeviceProfile>& profiles() const { return profiles_; }

 private:
  std::vector<DeviceProfile> profiles_;
  std::array<std::size_t, 3> default_{};
};

}  // namespace bagsplit::timing
