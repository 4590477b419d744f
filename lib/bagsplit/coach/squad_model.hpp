#pragma once

#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <unordered_map>
#include <vector>

#include "bagsplit/coach/assemble.hpp"
#include "bagsplit/coach/best_path_losses.hpp"
#include "bagsplit/sprint/squad.hpp"

/// The squad's model from named runs: which terms of different players are one quantity, and what is thought of it before.
namespace bagsplit::coach {

/// A quantity that all players share.
struct SharedQuantity {
  enum class Kind : std::uint8_t {
    top_speed_offset,      ///< of log V from the norms
    time_constant_offset,  ///< of log tau from the norms
    term,                  ///< a timer's bias, or the common part of reaction, losses, posture costs
  };
  Kind kind = Kind::term;
  Term term;             ///< for `term`
  sprint::Normal prior;  ///< of the shared part
};

struct SquadModel {
  std::vector<SharedQuantity> shared;
  sprint::SquadFit fit;
  std::unordered_map<runs::NameId, std::size_t> members;  ///< player to place among those fitted
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

/// At most so many players are fitted: a few hundred tell all that a squad shares.
inline constexpr std::size_t most_fitted = 150;

/// Draws the players to fit: all, or `most_fitted` of them with a fixed seed.  @return indices, ascending.
std::vector<std::size_t> draw_fitted(std::size_t players, std::uint64_t seed);

/// What the players share and what is thought of it before their readings are looked at; nothing is fitted.
SquadModel squad_structure(std::span<const SquadPlayer> players, std::uint64_t seed);

/// The structure, fitted.  @param players  the players drawn, each with at least one run.
SquadModel fit_squad_model(std::span<const SquadPlayer> players, unsigned threads, std::uint64_t seed);

/// A player's own part, with pointers to what is shared. Adds the form of `day` as a last term where it is given.
sprint::SquadMember member_of(const SquadModel& model, const Assembled& assembled, std::optional<runs::Date> day);

/// Priors of the scales, weak, centred on the built-in model.
sprint::SquadScalePriors scale_priors();

}  // namespace bagsplit::coach
