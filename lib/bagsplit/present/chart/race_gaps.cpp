#include "bagsplit/present/chart/race_gaps.hpp"

#include <algorithm>
#include <array>

#include "bagsplit/runs/anonymise.hpp"
#include "bagsplit/text/number_text.hpp"

namespace bagsplit::present::chart {

namespace {

// A name that no longer fits its place is cut; a mark that stands for a hidden one stays whole, to be found later.
std::string fitted(std::string name, double room) {
  const std::size_t mark = std::min(name.find('~'), name.size());
  while (runs::mark_at(name, mark).empty() && name.size() > 1 && text_width(name) > room) {
    do {
      name.pop_back();
    } while (name.size() > 1 && (static_cast<unsigned char>(name.back()) & 0xC0U) == 0x80U);
  }
  return name;
}

}  // namespace

text::Markup race_gaps(const Caption& caption, const jobs::RaceGaps& race, double most_s,
                       const std::vector<std::vector<std::string>>& runners) {
  constexpr double left = 38.0, right = 268.0, top = 22.0, bottom = 132.0, line_height = 16.0;
  std::size_t legs = 1;
  for (const std::vector<std::string>& team : runners) {
    legs = std::max(legs, team.size());
  }
  const Scale x{0.0, static_cast<double>(legs), left, right};
  const Scale y{0.0, std::max(0.1, 1.05 * most_s), top, bottom};
  text::Markup out = left_axis(y, left, right, "behind, s", 5);
  const double beneath = bottom + 18.0;
  std::vector<double> names_at;  // none over another
  for (std::size_t team = 0; team < runners.size(); ++team) {
    std::vector<Spot> spots{{x.at(0.0), y.at(0.0)}};
    for (const jobs::RaceGaps::After& after : race.after) {
      spots.push_back({x.at(static_cast<double>(after.leg)), y.at(after.behind_s[team])});
    }
    out += team == 0 ? curve(spots, "curve") : team == 1 ? curve(spots, "mark bold") : curve(spots, "ink");
    for (std::size_t k = 1; k < spots.size(); ++k) {
      out += dot(spots[k], team != 0);
    }
    double name_at = spots.back().y + 4.0;
    while (std::any_of(names_at.begin(), names_at.end(), [&](double at) { return std::abs(at - name_at) < 12.0; })) {
      name_at += 2.0;
    }
    names_at.push_back(name_at);
    const double behind = race.after.empty() ? 0.0 : race.after.back().behind_s[team];
    const std::string gap = behind > 0.0 ? " +" + text::fixed(behind, 2) : "";
    out += label({spots.back().x + 8.0, name_at},
                 fitted(race.teams[team].team, width - spots.back().x - 8.0 - text_width(gap)) + gap, Anchor::start,
                 "strong");
    const double row = beneath + line_height * static_cast<double>(team);
    for (std::size_t leg = 0; leg < runners[team].size(); ++leg) {
      out += label({0.5 * (x.at(static_cast<double>(leg)) + x.at(static_cast<double>(leg) + 1.0)), row},
                   fitted(runners[team][leg], x.at(1.0) - x.at(0.0) - 4.0), Anchor::middle);
    }
    out += label({right + 8.0, row}, fitted(race.teams[team].team, width - right - 8.0), Anchor::start, "small");
  }
  return drawing(caption, beneath + line_height * static_cast<double>(runners.size()) - 8.0, out);
}

}  // namespace bagsplit::present::chart
