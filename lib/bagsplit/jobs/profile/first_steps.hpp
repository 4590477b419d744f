#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "bagsplit/inference/prior/model.hpp"

/// First acceleration and when the clock started: what a squad's runs tell apart. A clock that starts 0.1 s late makes
/// a time constant of 0.9 s one of 0.8 s, in every child alike.
namespace bagsplit::jobs {

/// Of the squad.
struct FirstSteps {
  enum class Clock : std::uint8_t { fits, starts_late, starts_early };

  /// The level of the squad's first acceleration is told by its runs, apart from when its clocks started.
  bool level_told = true;
  /// Of the clocks that self-started runs or beams started.
  Clock clock = Clock::fits;
  /// Were the clocks right on average as their makers' numbers say, how hard the squad would start; nothing without
  /// such clocks.
  std::optional<double> by_the_clock_mps2;

  /// May anything be said of a child's start against the squad?
  bool advice() const { return level_told && clock == Clock::fits; }
};

/// What of a child's first acceleration is its own, against the squad's level: a logarithm.
struct OwnFirstAcceleration {
  inference::Normal log;  ///< posterior
  double prior_sd = 0.0;  ///< between children
  double share = 0.0;     ///< of its variance that the readings took away

  /// At least half is known.
  bool told() const { return share >= 0.5; }
  /// Surely (95 in 100) among the slowest tenth.
  bool surely_in_slowest_tenth() const;
};

/// What is to be said, and what to do about it; nothing where the runs tell all.
std::vector<std::string> first_steps_notes(const FirstSteps& squad);

}  // namespace bagsplit::jobs
