#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "bagsplit/runs/run.hpp"

/// Who ran. Only the id is required; everything else is optional and personal data of a minor.
namespace bagsplit::runs {

enum class Sex : std::uint8_t { female, male };
enum class Side : std::uint8_t { left, right, both };

struct Player {
  std::string id;
  std::string bib;
  std::string name;
  std::optional<Sex> sex;  ///< as the norms split it
  std::optional<Date> born;
  std::optional<double> height_m;
  std::optional<double> mass_kg;
  std::optional<double> sitting_height_m;
  std::optional<Side> bats;
  std::string team;
};

struct Roster {
  std::vector<Player> players;                    ///< in file order, ids unique
  const Player* find(std::string_view id) const;  ///< nullptr when absent; O(1) after build_index()
  void build_index();

 private:
  std::vector<std::uint32_t> order_;  ///< indices sorted by id
};

/// Age in years at a date, counting fractions of the year between birthdays (as the norms' ages are meant).
/// A 29 February birthday is kept on 1 March in other years.
double age_years(Date born, Date at);

/// League age: whole years reached on the cut-off day of the season's year (month and day given by the league).
int league_age(Date born, int season_year, std::chrono::month_day cut_off);

}  // namespace bagsplit::runs
