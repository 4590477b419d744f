#pragma once

#include <cstdint>
#include <optional>
#include <span>
#include <string_view>

#include "bagsplit/timing/reading_error.hpp"

/// Times as a rule book makes them: official time of several hand watches, and classes of timing that are never mixed.
/// For a list of results; estimates use the error model.
///
/// Source: World Athletics Technical Rules, hand timing (former Rule 165); former IAAF Rule 165.13-18 for automatic
/// timing.
namespace bagsplit::timing {

/// Classes of timing. A list of results, records or standings should hold one only, or say which time is of which
/// class.
enum class TimingClass : std::uint8_t {
  hand,          ///< started and stopped by hand
  hand_started,  ///< hand start, automatic finish: neither a hand time nor a fully automatic one
  automatic,     ///< started by the signal itself and stopped by beam: fully automatic in the rule book's sense
  own_start,     ///< beams or triggers, clock started by the runner: no signal, no reaction
  video,         ///< read off frames of a recording
};
std::string_view timing_class_name(TimingClass timing_class);

/// @param timing  as resolved by reading_error().
TimingClass timing_class(runs::Device device, StartTiming timing);

enum class OfficialRule : std::uint8_t {
  one_watch,       ///< its time
  slower_of_two,   ///< two differ: the longer
  two_agree,       ///< two of two or three watches agree: that time
  middle,          ///< three differ: the middle one
  middle_of_many,  ///< more than three, no rule in the book: the middle one, of two middle ones the longer
};

struct OfficialTime {
  double time_s;      ///< as read, before conversion
  double recorded_s;  ///< converted up to the next tenth (track) or second (road)
  OfficialRule rule;
};

enum class Venue : std::uint8_t {
  track,    ///< up to the next tenth
  outside,  ///< partly or wholly outside a stadium: up to the next full second
};

/// Official hand time of the watches on one run.
///
/// One: its time. Two: if they differ, the longer. Three: if two agree, that time, else the middle. More than three: no
/// rule in the book; the same idea is carried on (upper median). The book wants watches read to 0.01 s, each timer on
/// his own; times within half a thousandth agree.
/// @param times_s  n >= 1 times of class `hand` [s], finite, > 0.
/// @throws std::domain_error naming the argument, its index, its value and the bound.
/// Source: World Athletics Technical Rules, hand timing (former Rule 165).
OfficialTime official_hand_time(std::span<const double> times_s, Venue venue = Venue::track);

/// A time converted up to the next step: unchanged where it already lies on a step, within half a thousandth. In tenths
/// (10 steps a second) 4:12.44 gives 4:12.5, 4:12.50 stays; in hundredths (100) 4:12.441 gives 4:12.45.
/// @param steps_per_s  how many steps make a second, > 0, not how long one is: 1/10 has no exact double, and tenths
///                     divided by 10 are the doubles that the tenths read as.
/// @throws std::domain_error for a time or a number of steps that is not finite and above 0.
double convert_up_s(double time_s, double steps_per_s);

}  // namespace bagsplit::timing
