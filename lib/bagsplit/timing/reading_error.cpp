#include "bagsplit/timing/reading_error.hpp"

#include <algorithm>
#include <array>
#include <sstream>
#include <stdexcept>

#include "bagsplit/stats/detail/elementary.hpp"
#include "bagsplit/text/number_chars.hpp"

namespace bagsplit::timing {

namespace {

using stats::square;

std::size_t index(StartTiming timing) {
  return static_cast<std::size_t>(timing);
}

void check_not_negative(const char* function, const char* argument, double value) {
  if (!(value >= 0.0) || !std::isfinite(value)) {
    std::ostringstream text;
    text << function << ": " << argument << " is " << value << ", but must be finite and at least 0";
    throw std::domain_error(text.str());
  }
}

// The timer's own number where there is one, else the device's.
template <class T>
const T& pick(const std::optional<T>* own, const std::optional<T>& device, bool& from_timer, const char* what) {
  if (own != nullptr && own->has_value()) {
    from_timer = true;
    return **own;
  }
  if (!device) {
    throw std::invalid_argument(std::string("reading_error: profile is not complete, but must have ") + what);
  }
  return *device;
}

struct Start {
  double bias_mean_s;
  double bias_variance_s2;
  double timer_variance_s2;
  double start_variance_s2;
};

// Two equally likely ways of starting, as one Gaussian: mean and variance of the mixture. What is not known about the
// timer's role is the timer's own.
Start even_mixture(const Start& a, const Start& b) {
  const double between = square(0.5 * (a.bias_mean_s - b.bias_mean_s));
  return {0.5 * (a.bias_mean_s + b.bias_mean_s), 0.5 * (a.bias_variance_s2 + b.bias_variance_s2) + between,
          0.5 * (a.timer_variance_s2 + b.timer_variance_s2) + between,
          0.5 * (a.start_variance_s2 + b.start_variance_s2)};
}

Start start_of(const TimingNumbers& device, const TimingNumbers* own, StartTiming timing, bool& from_timer) {
  const std::size_t i = index(timing);
  const BiasPrior& bias = pick(own == nullptr ? nullptr : &own->bias.at(i), device.bias.at(i), from_timer, "bias_s");
  const ErrorSd& sd =
      pick(own == nullptr ? nullptr : &own->start_sd.at(i), device.start_sd.at(i), from_timer, "sd_s/start");
  return {bias.mean_s, square(bias.sd_s), square(bias.timer_sd_s), square(sd.value_s)};
}

Start start_of(const TimingNumbers& device, const TimingNumbers* own, StartTiming timing, bool role_assumed,
               bool& from_timer) {
  const Start first = start_of(device, own, timing, from_timer);
  return role_assumed ? even_mixture(first, start_of(device, own, StartTiming::gives_signal, from_timer)) : first;
}

// Whether the device itself has numbers for this start (a timer may be the only one who has).
bool covers(const TimingNumbers& device, const ReadingError& error) {
  const auto has = [&](StartTiming timing) {
    return device.bias.at(index(timing)) && device.start_sd.at(index(timing));
  };
  return has(error.timing) && (!error.role_assumed || has(StartTiming::gives_signal));
}

std::string start_in_words(const ReadingError& error) {
  if (error.role_assumed) {
    return "not said whether the timer hears or gives the signal";
  }
  static constexpr std::array<std::string_view, start_timing_count> words = {
      "timer hears the signal",      "timer gives the signal",          "the signal starts the clock",
      "clock started at first move", "clock started on passing a beam", "clock started at bat contact"};
  return std::string(words.at(index(error.timing)));
}

}  // namespace

runs::StartBiases start_biases(const DeviceBook& devices) {
  runs::StartBiases out;
  for (std::size_t d = 0; d < out.size(); ++d) {
    const DeviceProfile& profile = devices.default_for(static_cast<runs::Device>(d));
    for (std::size_t s = 0; s < out[d].size(); ++s) {
      const auto start = static_cast<runs::StartKind>(s);
      const auto bias_of = [&](std::string_view timer) {
        const ReadingError error = reading_error(profile, start, timer);
        return runs::StartBias{error.bias_mean_s, error.bias_sd_s()};
      };
      const auto shortest_s = [](const runs::StartBias& bias) { return bias.mean_s - 2.0 * bias.sd_s; };
      out[d][s] = bias_of("");
      for (const TimerNumbers& timer : profile.timers) {
        if (const runs::StartBias own = bias_of(timer.timer); shortest_s(own) < shortest_s(out[d][s])) {
          out[d][s] = own;
        }
      }
    }
  }
  return out;
}

ReadingError reading_error(const DeviceProfile& profile, runs::StartKind start, std::string_view timer,
                           runs::Signal signal) {
  const TimingNumbers& device = profile.numbers;
  const TimingNumbers* own = timer.empty() ? nullptr : profile.timer(timer);
  ReadingError made;
  switch (start) {
    case runs::StartKind::signal: {
      const bool said = signal != runs::Signal::unsaid && profile.device == runs::Device::stopwatch;
      const SignalRole role =
          said ? (signal == runs::Signal::mine ? SignalRole::gives : SignalRole::hears)
               : pick(own == nullptr ? nullptr : &own->signal, device.signal, made.from_timer, "signal");
      made.role_assumed = role == SignalRole::unknown;
      made.timing = role == SignalRole::automatic ? StartTiming::automatic_signal
                    : role == SignalRole::gives   ? StartTiming::gives_signal
                                                  : StartTiming::hears_signal;
      break;
    }
    case runs::StartKind::self:
      made.timing = StartTiming::first_move;
      break;
    case runs::StartKind::beam:
      made.timing = StartTiming::beam;
      break;
    case runs::StartKind::contact:
      made.timing = StartTiming::contact;
      break;
  }
  const Start found = start_of(device, own, made.timing, made.role_assumed, made.from_timer);
  const ErrorSd& split =
      pick(own == nullptr ? nullptr : &own->split_sd, device.split_sd, made.from_timer, "sd_s/split");
  const LagPrior& mark =
      pick(own == nullptr ? nullptr : &own->mark_lag, device.mark_lag, made.from_timer, "lag_s/mark");
  const LagPrior& move =
      pick(own == nullptr ? nullptr : &own->move_lag, device.move_lag, made.from_timer, "lag_s/first-move");

  // The bias the lags imply is b = e - s. Where a timer's own bias takes the place of the device's, what it says about
  // e is the regression of e on b; without one, the regression leaves e as it is.
  Start prior = found;
  if (own != nullptr && !own->mark_lag && covers(device, made)) {
    bool ignored = false;
    prior = start_of(device, nullptr, made.timing, made.role_assumed, ignored);
  }
  double mark_mean_s = mark.mean_s;
  double mark_variance_s2 = std::min(square(mark.sd_s), prior.bias_variance_s2);
  double covariance_s2 = mark_variance_s2;
  if (prior.bias_variance_s2 > 0.0) {
    const double slope = mark_variance_s2 / prior.bias_variance_s2;
    mark_mean_s += slope * (found.bias_mean_s - prior.bias_mean_s);
    mark_variance_s2 += square(slope) * (found.bias_variance_s2 - prior.bias_variance_s2);
    covariance_s2 = slope * found.bias_variance_s2;
  }
  made.move_lag_mean_s = move.mean_s - mark_mean_s;
  made.move_lag_sd_s = std::sqrt(square(move.sd_s) + std::max(0.0, mark_variance_s2));
  made.bias_move_covariance_s2 = -covariance_s2;

  const double step_variance_s2 = square(rounding_sd_s(profile.resolution_s));
  const bool start_on_grid = profile.frames_per_s.has_value();
  made.bias_mean_s = found.bias_mean_s;
  if (profile.rounding == Rounding::up && !start_on_grid) {
    made.bias_mean_s += 0.5 * profile.resolution_s;
  }
  made.bias_timer_sd_s = std::sqrt(found.timer_variance_s2);
  made.bias_shared_sd_s = std::sqrt(std::max(0.0, found.bias_variance_s2 - found.timer_variance_s2));
  made.start_sd_s = std::sqrt(found.start_variance_s2 + (start_on_grid ? step_variance_s2 : 0.0));
  made.split_sd_s = std::sqrt(square(split.value_s) + step_variance_s2);
  return made;
}

std::string describe(const DeviceProfile& profile, const ReadingError& error) {
  std::string text = profile.name + ", " + start_in_words(error) + ": reads ";
  const double size_s = std::fabs(error.bias_mean_s);
  if (size_s < 0.005) {
    text += "right on average";
  } else {
    text += text::plain_fixed(size_s, 2) + (error.bias_mean_s < 0.0 ? " s short" : " s long");
  }
  text += " (SD " + text::plain_fixed(error.bias_sd_s(), 2) + "); start SD " + text::plain_fixed(error.start_sd_s, 3) +
          " s, split SD " + text::plain_fixed(error.split_sd_s, 3) + " s";
  if (error.from_timer) {
    text += "; as given for this timer";
  }
  return text;
}

double rounding_sd_s(double step_s) {
  check_not_negative("rounding_sd_s", "step_s", step_s);
  return step_s / std::sqrt(12.0);
}

}  // namespace bagsplit::timing
