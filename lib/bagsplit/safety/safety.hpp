#pragma once

#include <cstddef>
#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

/// What keeps children who sprint from harm: figures and cautions, each once, with source and grade. Whatever prints a
/// caution or a run-out takes it from here. No medical advice; league rules and local codes come first.
namespace bagsplit::safety {

/// How it is known, the surest first.
enum class Grade : std::uint8_t {
  read,            ///< in the source named
  abstract_only,   ///< in the abstract of the source
  derived,         ///< worked out from figures that were read
  secondary,       ///< on a page that restates the source
  common_practice  ///< no source
};

struct Figure {
  std::string_view name, unit;
  double value = 0.0;
  Grade grade = Grade::common_practice;
  std::string_view source;
};

/// The figures used here.
std::span<const Figure> figures();

/// Of one player in one evening, the warm-up not counted; no plan asks for more.
inline constexpr std::size_t most_sprints_an_evening = 12;

/// Free ground wanted behind a finish that is run through [m]: 0.3 s before braking begins, then 2.24 m/s2, to a
/// tenth of a metre, rounded up to a metre, 10 m at least.
/// @param speed_mps  of the fastest child: the upper end of what is known.  @throws std::domain_error where it is not
/// finite or below 0.
double run_out_m(double speed_mps);

/// Least rest between two maximal sprints of one child [s]; an unknown age rests as the older do.
double least_rest_s(std::optional<double> age_years);

enum class Caution : std::uint8_t {
  warm_up,
  run_out,  ///< what follows the number of metres
  rest,
  most_sprints,
  heat,
  drink,
  lightning,
  sun,
  clear_path,
  hurt,
  prone,
  bags,
  one_runner,
  one_runner_a_team,
  lanes,
  heats,
  meet_at_second,
  yardstick,
  round_second,
  touch,
  fielders,
  league
};

struct Said {
  Caution caution;
  std::string_view words;
  Grade grade = Grade::common_practice;
  std::string_view source;  ///< empty: common practice, no source
};

/// The cautions in the order of the enumeration.
std::span<const Said> cautions();
std::string words(Caution caution);

/// "Leave a run-out of at least 13 m, clear and level, behind every finish, with no wall, fence or net at its end."
std::string run_out_words(double speed_mps);

/// What must be said wherever sprints are asked for, as one paragraph.
std::string sprint_caution(double fastest_mps);
/// Whether the text is sprint_caution() for some speed, so that a page joining several answers says it once.
bool is_sprint_caution(std::string_view text);

/// One line, where there is no room for more.
std::string short_caution(double fastest_mps);

/// For a child that practises one drill by itself.
std::string practice_caution(bool lies_down, double fastest_mps);

std::vector<std::string> relay_cautions(bool meet_at_second, double fastest_mps);
/// For those who practise a path round the bases.
std::vector<std::string> path_cautions(double fastest_mps);

struct Drill {
  bool base_path = false;
  bool relay = false;
  bool meet_at_second = false;
  bool heats = false;  ///< many start on one call
  bool lies_down = false;
};
/// For a sheet taken to the field, one line each.
std::vector<std::string> field_cautions(const Drill& drill, double fastest_mps);

}  // namespace bagsplit::safety
