#include "bagsplit/jobs/relay/relay_season.hpp"

#include <algorithm>
#include <cmath>

namespace bagsplit::jobs {

namespace {

constexpr double nine_in_ten_z = 1.6449;
constexpr double four_in_five_z = 0.8416;
constexpr double usual_leg_scatter_s = 0.25;  // where a leg has none of its own

bool sound(const RelayLeg& leg) {
  return leg.flag == runs::Flag::none && !leg.squad_leg_s;
}

std::vector<PooledExchange> pool(const RelayResult& result) {
  struct Taken {
    std::string player;
    std::vector<Estimate> exchanges;
  };
  std::vector<Taken> all;
  for (const RelayRun& run : result.runs) {
    for (std::size_t k = 0; k < run.legs.size(); ++k) {
      const RelayLeg& leg = run.legs[k];
      if (!leg.exchange_s || !sound(leg) || (k > 0 && !sound(run.legs[k - 1]))) {
        continue;
      }
      auto found = std::find_if(all.begin(), all.end(), [&](const Taken& one) { return one.player == leg.player; });
      if (found == all.end()) {
        all.push_back({leg.player, {}});
        found = std::prev(all.end());
      }
      found->exchanges.push_back(*leg.exchange_s);
    }
  }
  std::vector<PooledExchange> out;
  for (const Taken& one : all) {
    const double n = static_cast<double>(one.exchanges.size());
    double mean = 0.0;
    double variance = 0.0;
    for (const Estimate& e : one.exchanges) {
      mean += e.mean / n;
      variance += e.sd * e.sd / n;
    }
    double scatter = 0.0;
    for (const Estimate& e : one.exchanges) {
      scatter += (e.mean - mean) * (e.mean - mean);
    }
    const double of_mean = n > 2.0 ? scatter / (n - 1.0) / n : 0.0;
    const double sd = std::sqrt(std::max(variance * 0.5 * (1.0 + 1.0 / n), of_mean));
    PooledExchange& pooled = out.emplace_back();
    pooled.player = one.player;
    pooled.relays = one.exchanges.size();
    pooled.mean_s = mean;
    pooled.give_or_take_s = nine_in_ten_z * sd;
  }
  return out;
}

void hold_against_others(std::vector<PooledExchange>& exchanges) {
  std::stable_sort(exchanges.begin(), exchanges.end(),
                   [](const auto& a, const auto& b) { return a.mean_s > b.mean_s; });
  for (std::size_t k = 0; k < exchanges.size(); ++k) {
    std::vector<double> others;
    for (std::size_t j = exchanges.size(); j-- > 0;) {
      if (j != k) {
        others.push_back(exchanges[j].mean_s);  // rising
      }
    }
    if (others.size() < 3) {
      continue;
    }
    const std::size_t n = others.size();
    const double middle = n % 2 == 1 ? others[n / 2] : 0.5 * (others[n / 2 - 1] + others[n / 2]);
    PooledExchange& one = exchanges[k];
    one.others_middle_s = middle;
    one.surely_late = one.mean_s - one.give_or_take_s > middle;
    one.probably_late = one.mean_s - one.give_or_take_s * four_in_five_z / nine_in_ten_z > middle;
  }
}

// +1 by first, -1 by third, 0 where a team does not run one way throughout.
int way_of(const RelayRun& run) {
  const auto reversed = std::count_if(run.legs.begin(), run.legs.end(),
                                      [](const RelayLeg& leg) { return leg.course.ends_with("-reverse"); });
  return reversed == 0 ? 1 : reversed == static_cast<std::ptrdiff_t>(run.legs.size()) ? -1 : 0;
}

double scatter_of(const RelayRun& run) {
  double variance = run.total_sd_s * run.total_sd_s;
  for (const RelayLeg& leg : run.legs) {
    const double sd = leg.usual_scatter_s.value_or(usual_leg_scatter_s);
    variance += sd * sd;
  }
  return variance;
}

struct Meeting {
  double difference_s = 0.0;  ///< first team less the other
  double way = 0.0;           ///< +1: the first team by first, the other by third
  double variance = 0.0;
};

std::vector<Meeting> races_of(const RelayResult& result, const std::string& team, const std::string& other) {
  std::vector<Meeting> out;
  for (const RelayRun& a : result.runs) {
    for (const RelayRun& b : result.runs) {
      const bool met =
          a.team == team && b.team == other && a.date == b.date && a.place == b.place && a.trial == b.trial;
      const bool known = met && a.total_s && b.total_s && way_of(a) != 0 && way_of(b) != 0 &&
                         std::all_of(a.legs.begin(), a.legs.end(), sound) &&
                         std::all_of(b.legs.begin(), b.legs.end(), sound);
      if (known) {
        out.push_back({*a.total_s - *b.total_s, 0.5 * (way_of(a) - way_of(b)), scatter_of(a) + scatter_of(b)});
      }
    }
  }
  return out;
}

}  // namespace

std::vector<RaceGaps> race_gaps(const RelayResult& result) {
  std::vector<RaceGaps> out;
  for (std::size_t first = 0; first < result.runs.size(); first += out.back().teams.size()) {
    const RelayRun& head = result.runs[first];
    RaceGaps& race = out.emplace_back();
    race.date = head.date;
    race.place = head.place;
    race.trial = head.trial;
    std::size_t end = first;
    std::size_t legs = 0;
    for (; end < result.runs.size() && result.runs[end].date == head.date && result.runs[end].place == head.place &&
           result.runs[end].trial == head.trial;
         ++end) {
      legs = std::max(legs, result.runs[end].legs.size());
    }
    race.teams = std::span(result.runs).subspan(first, end - first);
    for (std::size_t k = 0; k < legs; ++k) {
      std::vector<double> clocks;
      for (const RelayRun& run : race.teams) {
        if (k < run.legs.size() && run.legs[k].clock_s) {
          clocks.push_back(*run.legs[k].clock_s);
        }
      }
      if (clocks.size() == race.teams.size()) {
        const double ahead = *std::min_element(clocks.begin(), clocks.end());
        for (double& clock : clocks) {
          clock -= ahead;
        }
        race.after.push_back({k + 1, std::move(clocks)});
      }
    }
  }
  return out;
}

RelaySeason relay_season(const RelayResult& result) {
  RelaySeason out;
  out.exchanges = pool(result);
  hold_against_others(out.exchanges);
  std::vector<std::string> teams;
  for (const RelayRun& run : result.runs) {
    if (std::find(teams.begin(), teams.end(), run.team) == teams.end()) {
      teams.push_back(run.team);
    }
  }
  if (teams.size() != 2) {
    return out;
  }
  const std::vector<Meeting> races = races_of(result, teams[0], teams[1]);
  double n = 0.0;
  double w = 0.0;
  double ww = 0.0;
  double d = 0.0;
  double wd = 0.0;
  double variance = 0.0;
  for (const Meeting& race : races) {
    n += 1.0;
    w += race.way;
    ww += race.way * race.way;
    d += race.difference_s;
    wd += race.way * race.difference_s;
    variance = std::max(variance, race.variance);
  }
  const double determinant = n * ww - w * w;
  if (races.empty() || determinant < 1e-9) {
    out.ways_never_swapped = ww > 0.0;
    return out;
  }
  const double team = (ww * d - w * wd) / determinant;
  const double side = (n * wd - w * d) / determinant;
  SideOrTeam& told = out.side_or_team.emplace();
  told.team = team <= 0.0 ? teams[0] : teams[1];
  told.other = team <= 0.0 ? teams[1] : teams[0];
  told.team_s = std::abs(team);
  told.team_give_s = nine_in_ten_z * std::sqrt(variance * ww / determinant);
  told.first_quicker = side <= 0.0;
  told.side_s = std::abs(side);
  told.side_give_s = nine_in_ten_z * std::sqrt(variance * n / determinant);
  told.relays = races.size();
  return out;
}

}  // namespace bagsplit::jobs
