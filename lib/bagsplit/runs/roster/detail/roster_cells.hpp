#pragma once

#include <array>
#include <cstdint>
#include <optional>
#include <string>
#include <string_view>

#include "bagsplit/runs/player.hpp"
#include "bagsplit/runs/typed.hpp"
#include "bagsplit/text/problem.hpp"

/// Inside the reader: what one cell of a roster means.
namespace bagsplit::runs::detail {

enum class RosterField : std::uint8_t {
  player,
  bib,
  name,
  sex,
  born,
  height,
  mass,
  sitting_height,
  bats,
  team,
  other,
  unnamed,
};

inline constexpr std::size_t roster_fields = static_cast<std::size_t>(RosterField::other);
/// Names of the columns, in the order of RosterField.
extern const std::array<std::string_view, roster_fields> roster_names;

/// How cells are typed in this file.
struct RosterTyping {
  DateOrder dates = DateOrder::iso;
  bool decimal_comma = false;
  std::optional<Date> today;
};

/// Reads a cell into the player. `text` is trimmed and not empty.
/// @return what is wrong with it, without its place: an error, and nothing was taken, or a suspicion, and it was.
std::optional<text::Problem> read_roster_cell(RosterField field, std::string_view text, const RosterTyping& typing,
                                              Player& player);

/// What the age at a run says against a date of birth, if anything: the error of a run before the birth, the suspicion
/// of an age that a player hardly has.
std::optional<text::Problem> doubt_birth(Date born, Date run);

/// The suspicion that a sitting height calls for beside the height, if any.
std::optional<text::Problem> doubt_sitting_height(const Player& player);

}  // namespace bagsplit::runs::detail
