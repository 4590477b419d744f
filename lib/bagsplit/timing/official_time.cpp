#include "bagsplit/timing/official_time.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <sstream>
#include <stdexcept>
#include <vector>

namespace bagsplit::timing {

namespace {

// Watches are read to 0.01 s; two readings within this are the same reading, whatever binary fractions did to them.
constexpr double same_s = 0.0005;

[[noreturn]] void refuse(const std::string& function, const std::string& argument, double value, const char* bound) {
  std::ostringstream text;
  text << function << ": " << argument << " is " << value << ", but must be " << bound;
  throw std::domain_error(text.str());
}

void check_positive(const std::string& function, const std::string& argument, double value) {
  if (!(value > 0.0) || !std::isfinite(value)) {
    refuse(function, argument, value, "finite and above 0");
  }
}

bool same(double a, double b) {
  return std::fabs(a - b) < same_s;
}

}  // namespace

std::string_view timing_class_name(TimingClass timing_class) {
  static constexpr std::array<std::string_view, 5> names = {"hand", "hand-started", "automatic", "own-start", "video"};
  return names.at(static_cast<std::size_t>(timing_class));
}

TimingClass timing_class(runs::Device device, StartTiming timing) {
  if (device == runs::Device::stopwatch) {
    return TimingClass::hand;
  }
  if (device == runs::Device::video) {
    return TimingClass::video;
  }
  switch (timing) {
    case StartTiming::automatic_signal:
      return TimingClass::automatic;
    case StartTiming::first_move:
    case StartTiming::beam:
      return TimingClass::own_start;
    case StartTiming::hears_signal:
    case StartTiming::gives_signal:
    case StartTiming::contact:
      break;
  }
  return TimingClass::hand_started;
}

double convert_up_s(double time_s, double steps_per_s) {
  check_positive("convert_up_s", "time_s", time_s);
  check_positive("convert_up_s", "steps_per_s", steps_per_s);
  return std::fmax(0.0, std::ceil((time_s - same_s) * steps_per_s) / steps_per_s);
}

OfficialTime official_hand_time(std::span<const double> times_s, Venue venue) {
  if (times_s.empty()) {
    throw std::domain_error("official_hand_time: times_s has 0 times, but must have at least 1");
  }
  for (std::size_t i = 0; i < times_s.size(); ++i) {
    check_positive("official_hand_time", "times_s[" + std::to_string(i) + "]", times_s[i]);
  }
  std::vector<double> sorted(times_s.begin(), times_s.end());
  std::sort(sorted.begin(), sorted.end());
  // The upper median is the rule for 1, 2 and 3 watches: of three of which two agree, the middle one is one of those
  // two.
  const std::size_t middle = sorted.size() / 2;
  OfficialTime made{};
  made.time_s = sorted[middle];
  const bool agrees = (middle > 0 && same(sorted[middle], sorted[middle - 1])) ||
                      (middle + 1 < sorted.size() && same(sorted[middle], sorted[middle + 1]));
  if (sorted.size() == 1) {
    made.rule = OfficialRule::one_watch;
  } else if (agrees && sorted.size() <= 3) {
    made.rule = OfficialRule::two_agree;
  } else if (sorted.size() == 2) {
    made.rule = OfficialRule::slower_of_two;
  } else {
    made.rule = sorted.size() == 3 ? OfficialRule::middle : OfficialRule::middle_of_many;
  }
  made.recorded_s = convert_up_s(made.time_s, venue == Venue::track ? 10.0 : 1.0);
  return made;
}

}  // namespace bagsplit::timing
