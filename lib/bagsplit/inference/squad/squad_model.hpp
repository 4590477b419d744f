#pragma once

#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <unordered_map>
#include <vector>

#include "bagsplit/inference/reading/assemble.hpp"
#include "bagsplit/inference/reading/best_path_losses.hpp"
#include "bagsplit/inference/squad/squad.hpp"

/// The squad's model from named runs: which terms of different players are one quantity, and what is thought of it
/// before.
namespace bagsplit::inference {

/// A quantity that all players share.
struct SharedQuantity {
  enum class Kind : std::uint8_t {
    top_speed_offset,      ///< of log V from the norms
    time_constant_offset,  ///< of log tau from the norms, beyond what the offset of log V just before takes along
    term,                  ///< a timer's bias, or the common part of reaction, losses, posture costs
  };
  Kind kind = Kind::term;
  Term term;                  ///< for `term`
  inference::Normal prior;    ///< of the shared part
  double on_top_speed = 0.0;  ///< for `time_constant_offset`: so much of the offset of log V is in log tau as well
};

struct SquadModel {
  std::vector<SharedQuantity> shared;
  inference::SquadFit fit;
  std::unordered_map<runs::NameId, std::size_t> members;  ///< player to place among those fitted
  bool ages_alike = false;  ///< has offsets of those without an age, see Assembled::ages_alike
  std::size_t players = 0;  ///< with runs to learn from; more than were fitted where the log is large
  std::uint64_t seed = 0;   ///< of the draw of those fitted

  std::optional<std::uint32_t> find(const Term& term) const;
};

/// One player to learn from.
struct SquadPlayer {
  runs::NameId id = 0;
  Assembled assembled;
  LossMeans loss_means;  ///< of expect_best_path(); may be empty
};

/// In a large log players are drawn until they have so many readings, but at least so many players: that tells the
/// scales to some 5% and the offsets to a quarter of their spread, and more would cost seconds.
inline constexpr std::size_t enough_readings = 400;
inline constexpr std::size_t fewest_drawn = 24;
/// Of that draw: the same in every job, so that the same players are learnt from.
inline constexpr std::uint64_t squad_seed = 20260411;

/// Draws the players to fit: all of a small log, else a draw with a fixed seed.  @param readings  of each player, at
/// least 1.
/// @return indices, ascending.
std::vector<std::size_t> draw_fitted(std::span<const std::size_t> readings, std::uint64_t seed);

/// What the players share and what is thought of it before their readings are looked at; nothing is fitted.
SquadModel squad_structure(std::span<const SquadPlayer> players, std::uint64_t seed);

struct SquadFitting {
  /// Players there are besides those fitted: with any, the scales are taken at their mode alone, since each point of
  /// the design costs a posterior of every player, and so many readings leave little doubt.
  std::size_t others = 0;
  std::optional<inference::SquadScalePriors> scales;  ///< none: scale_priors()
  unsigned threads = 1;
};

/// Fits a structure.  @param players  the players drawn, each with at least one run.
void fit_structure(SquadModel& model, std::span<const SquadPlayer> players, const SquadFitting& fitting);

/// The structure of these players, fitted.
SquadModel fit_squad_model(std::span<const SquadPlayer> players, std::size_t others, unsigned threads,
                           std::uint64_t seed);

/// A player's own part, with pointers to what is shared. Adds the form of `day` as a last term where it is given.
inference::SquadMember member_of(const SquadModel& model, const Assembled& assembled, std::optional<runs::Date> day);

/// Priors of the scales, weak, centred on the built-in model.
inference::SquadScalePriors scale_priors();

/// Are most players without an age, so that those are taken to be of like ages?
bool mostly_without_age(const runs::RunLog& log, const runs::Roster& roster);

}  // namespace bagsplit::inference
