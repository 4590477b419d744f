#pragma once

#include <array>
#include <string_view>

#include "bagsplit/runs/run.hpp"

/// The words of a run log's cells, in the order of the enumerators.
namespace bagsplit::runs {

inline constexpr std::array<std::string_view, 3> device_words = {"stopwatch", "gate", "video"};
inline constexpr std::array<std::string_view, 4> start_words = {"signal", "self", "beam", "contact"};
/// From Signal::mine on; who gives the signal may be left unsaid.
inline constexpr std::array<std::string_view, 3> signal_words = {"mine", "other", "gun"};
inline constexpr std::array<std::string_view, 5> posture_words = {"standing", "split", "crouch", "prone", "swing"};
/// From Flag::false_start on; no flag is an empty cell.
inline constexpr std::array<std::string_view, 6> flag_words = {"false-start", "fall", "missed-bag",
                                                               "obstructed",  "void", "absent"};

constexpr std::string_view word_of(Device device) {
  return device_words[static_cast<std::size_t>(device)];
}
constexpr std::string_view word_of(StartKind start) {
  return start_words[static_cast<std::size_t>(start)];
}
constexpr std::string_view word_of(Signal signal) {
  return signal == Signal::unsaid ? std::string_view{} : signal_words[static_cast<std::size_t>(signal) - 1];
}
constexpr std::string_view word_of(Posture posture) {
  return posture_words[static_cast<std::size_t>(posture)];
}
constexpr std::string_view word_of(Flag flag) {
  return flag == Flag::none ? std::string_view{} : flag_words[static_cast<std::size_t>(flag) - 1];
}

}  // namespace bagsplit::runs
