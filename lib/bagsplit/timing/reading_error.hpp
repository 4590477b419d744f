#pragma once

#include <cmath>
#include <string>
#include <string_view>
#include <vector>

#include "bagsplit/runs/log/run_log.hpp"
#include "bagsplit/timing/device.hpp"

/// The error of one timer's record of a run, in the symbols of the model of a reading:
///
///   symbol    meaning                                                                     unit
///   b         bias of the reading, common to all its marks: reading minus truth           s
///   s_start   scatter of the start press, shared by all marks of the reading              s
///   s_split   scatter of each mark's press, resolution^2/12 included                      s
///   lag       what a `move` mark reads beyond RT + b                                      s
namespace bagsplit::timing {

/// Plain numbers; cheap to copy and to keep one a reading.
struct ReadingError {
  StartTiming timing = StartTiming::hears_signal;
  bool role_assumed = false;  ///< a `signal` start whose timer may hear or give the signal: `timing` is hears_signal,
                              ///< the numbers are those of an even mixture of both
  bool from_timer = false;    ///< at least one entry is the timer's own

  double bias_mean_s = 0.0;       ///< rounding included: + resolution/2 where times are rounded up
  double bias_shared_sd_s = 0.0;  ///< of the part of b that every timer with this device and start shares
  double bias_timer_sd_s = 0.0;   ///< of the part that is this timer's own
  double start_sd_s = 0.0;
  double split_sd_s = 0.0;

  double move_lag_mean_s = 0.0;
  double move_lag_sd_s = 0.0;
  /// Covariance of b and lag [s^2], at most 0: both hold the lag of a press at a mark, with opposite signs. Leaving it
  /// out makes a `move` mark look about twice as uncertain as it is.
  double bias_move_covariance_s2 = 0.0;

  double bias_sd_s() const { return std::hypot(bias_shared_sd_s, bias_timer_sd_s); }
};

/// What the profiles in use take the bias of a time from the start to be, for judging whether a time can be: of the
/// device's own numbers and those of its timers, the ones that let a time be shortest.
runs::StartBiases start_biases(const DeviceBook& devices);

/// The error of a reading, from its device, how the run was started, and who timed it.
///
/// `signal` starts are told apart by the timer's role (timer's own, else the device's); `self` is first_move. Rounding
/// up adds resolution/2 to the bias. On video the start is known to one frame too: s_start gains resolution^2/12 and
/// the two half frames cancel in the bias.
///
/// With e the lag at a mark, s the lag at the start and m the lag at the first move: b = e - s, and a `move` mark reads
/// RT + m - s = RT + b + (m - e), so lag = m - e and Cov(b, lag) = -Var(e). Where the timer's own bias is given, e is
/// updated by it (Gaussian regression of e on b). Var(e) is taken as at most Var(b): a bias known well bounds what it
/// is made of.
///
/// @param profile  a complete profile.   @param timer  as in the run log; empty when not known.
/// @param signal   who gave the signal, where the log says: a hand watch's role, whatever the profile says of it.
/// @throws std::invalid_argument when the profile is not complete.   Cost: O(log timers), no allocation.
ReadingError reading_error(const DeviceProfile& profile, runs::StartKind start, std::string_view timer = {},
                           runs::Signal signal = runs::Signal::unsaid);

/// The numbers and their sources in one line for people, e.g.
/// "stopwatch, timer sees the first move: reads 0.25 s short (SD 0.10); start press SD 0.06 s, split press SD 0.06 s".
std::string describe(const DeviceProfile& profile, const ReadingError& error);

/// Standard deviation of a value spread evenly over one step: step / sqrt(12).  @param step_s >= 0.
/// Rounding to hundredths gives 0.0029 s, to tenths 0.029 s; one frame of 30 a second 0.0096 s.
/// Source: variance of the uniform distribution.
double rounding_sd_s(double step_s);

}  // namespace bagsplit::timing
