#include "bagsplit/runs/player.hpp"

#include <algorithm>
#include <numeric>

namespace bagsplit::runs {

namespace {

using std::chrono::days;
using std::chrono::year;
using std::chrono::year_month_day;

// The birthday in a given year; 29 February is kept on 1 March in years without one.
Date birthday_in(year_month_day born, year in) {
  const year_month_day day{in, born.month(), born.day()};
  return day.ok() ? Date{day} : Date{year_month_day{in, std::chrono::March, std::chrono::day{1}}};
}

}  // namespace

void Roster::build_index() {
  order_.resize(players.size());
  std::iota(order_.begin(), order_.end(), 0U);
  std::sort(order_.begin(), order_.end(), [&](auto a, auto b) { return players[a].id < players[b].id; });
}

const Player* Roster::find(std::string_view id) const {
  const auto it = std::lower_bound(order_.begin(), order_.end(), id,
                                   [&](auto i, std::string_view key) { return players[i].id < key; });
  return it != order_.end() && players[*it].id == id ? &players[*it] : nullptr;
}

double age_years(Date born, Date at) {
  const year_month_day birth{born};
  const year_month_day now{at};
  year last = now.year();
  if (at < birthday_in(birth, last)) {
    --last;
  }
  const Date from = birthday_in(birth, last);
  const Date to = birthday_in(birth, last + std::chrono::years{1});
  return static_cast<double>((last - birth.year()).count()) +
         static_cast<double>((at - from).count()) / static_cast<double>((to - from).count());
}

int league_age(Date born, int season_year, std::chrono::month_day cut_off) {
  const Date day = birthday_in(year_month_day{year{season_year}, cut_off.month(), cut_off.day()}, year{season_year});
  const year_month_day birth{born};
  const int years = season_year - static_cast<int>(birth.year());
  return birthday_in(birth, year{season_year}) <= day ? years : years - 1;
}

}  // namespace bagsplit::runs
