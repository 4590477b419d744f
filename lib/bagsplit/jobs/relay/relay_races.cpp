#include <algorithm>
#include <cmath>

#include "bagsplit/jobs/profile/merge_estimates.hpp"
#include "bagsplit/jobs/relay/detail/relay_job.hpp"
#include "bagsplit/stats/distributions.hpp"

namespace bagsplit::jobs {

namespace {

using Eigen::Index;
using Eigen::MatrixXd;

// A posterior SD above this means that the readings tell nothing of it.
constexpr double untold_sd_s = 10.0;

// No clock reads finer; takes away what the wide prior of a leg leaves.
double microseconds(double s) {
  return std::round(s * 1e6) / 1e6;
}

// What one point of the squad's design makes of one race, nothing thought of its legs beforehand.
struct PlainRace {
  struct Team {
    std::vector<double> leg_s;
    MatrixXd covariance;                                  // of the legs
    std::vector<double> against_s, against_variance;      // leg less the player's own time
    std::vector<double> with_loss_s, with_loss_variance;  // leg less a straight sprint
  };
  std::vector<Team> teams;
  std::vector<double> total_s;  // true ones
  MatrixXd total_covariance;
};

PlainRace plain_race(const RelayJob& job, std::size_t point, const RelayRace& race) {
  RelayWorld world(job.times, point, job.exchange_mean_s, job.day);
  std::vector<std::vector<stats::LinearQuantity>> legs;
  std::vector<stats::LinearQuantity> wanted;
  for (const TeamRelay& team : race.teams) {
    auto& of_team = legs.emplace_back();
    for (std::size_t leg = 0; leg < team.legs.size(); ++leg) {
      of_team.push_back(world.unknown_leg());
    }
  }
  std::vector<stats::LinearQuantity> observed;
  std::vector<double> values;
  world.read(race, legs, observed, values);
  std::vector<std::size_t> first_of_team;
  for (std::size_t t = 0; t < race.teams.size(); ++t) {
    first_of_team.push_back(wanted.size());
    for (std::size_t leg = 0; leg < legs[t].size(); ++leg) {
      const LegRow& row = race.teams[t].legs[leg];
      // As the clocks read it: their bias stands in the first leg.
      wanted.push_back(legs[t][leg]);
      if (leg == 0) {
        std::vector<std::size_t> clocks;
        for (const RelayReading& r : race.readings) {
          if (r.team == t && !r.lap) {
            place_of(clocks, r.clock);
          }
        }
        for (const std::size_t clock : clocks) {
          wanted.back().add(world.times().bias(clock), 1.0 / static_cast<double>(clocks.size()));
        }
      }
      stats::LinearQuantity against = legs[t][leg];
      stats::LinearQuantity with_loss = legs[t][leg];
      if (row.there) {
        const std::size_t player = job.player(row.player);
        against.add(world.own_time(player, row.course, leg > 0 || row.signal), -1.0);
        with_loss.add(world.straight(player, row.course), -1.0);
      }
      wanted.push_back(std::move(against));
      wanted.push_back(std::move(with_loss));
    }
  }
  const std::size_t first_total = wanted.size();
  for (const auto& of_team : legs) {
    stats::LinearQuantity& total = wanted.emplace_back();
    for (const stats::LinearQuantity& leg : of_team) {
      total.add(leg);
    }
  }
  const stats::JointNormal told = world.times().factors().given(wanted, world.times().factors().see(observed, values));

  PlainRace out;
  for (std::size_t t = 0; t < race.teams.size(); ++t) {
    PlainRace::Team& team = out.teams.emplace_back();
    const auto n = static_cast<Index>(legs[t].size());
    team.covariance.resize(n, n);
    for (Index a = 0; a < n; ++a) {
      const Index at = static_cast<Index>(first_of_team[t]) + 3 * a;
      team.leg_s.push_back(told.mean(at));
      team.against_s.push_back(told.mean(at + 1));
      team.against_variance.push_back(told.covariance(at + 1, at + 1));
      team.with_loss_s.push_back(told.mean(at + 2));
      team.with_loss_variance.push_back(told.covariance(at + 2, at + 2));
      for (Index b = 0; b < n; ++b) {
        team.covariance(a, b) = told.covariance(at, static_cast<Index>(first_of_team[t]) + 3 * b);
      }
    }
  }
  const auto k = static_cast<Index>(race.teams.size());
  out.total_covariance = told.covariance.block(static_cast<Index>(first_total), static_cast<Index>(first_total), k, k);
  for (Index t = 0; t < k; ++t) {
    out.total_s.push_back(told.mean(static_cast<Index>(first_total) + t));
  }
  return out;
}

bool is_told(double variance) {
  return variance < untold_sd_s * untold_sd_s;
}

// Variance of the sum of legs from..to.
double sum_variance(const MatrixXd& covariance, std::size_t from, std::size_t to) {
  const auto n = static_cast<Index>(to - from + 1);
  return covariance.block(static_cast<Index>(from), static_cast<Index>(from), n, n).sum();
}

// Legs that the readings do not part, and their sums where those are told.
void join_legs(const PlainRace::Team& plain, RelayRun& run) {
  for (std::size_t from = 0; from < run.legs.size();) {
    if (run.legs[from].leg_s) {
      ++from;
      continue;
    }
    std::size_t to = from;
    while (to + 1 < run.legs.size() && !run.legs[to + 1].leg_s && !is_told(sum_variance(plain.covariance, from, to))) {
      ++to;
    }
    const bool told = is_told(sum_variance(plain.covariance, from, to));
    double sum = 0.0;
    for (std::size_t leg = from; leg <= to; ++leg) {
      run.legs[leg].together_from = told ? std::optional(from + 1) : std::nullopt;
      sum += plain.leg_s[leg];
    }
    if (told) {
      run.legs[to].together_s = microseconds(sum);
    }
    from = to + 1;
  }
}

std::optional<double> clock_at(const PlainRace::Team& plain, std::size_t leg) {
  if (!is_told(sum_variance(plain.covariance, 0, leg))) {
    return std::nullopt;
  }
  double sum = 0.0;
  for (std::size_t k = 0; k <= leg; ++k) {
    sum += plain.leg_s[k];
  }
  return microseconds(sum);
}

RelayRun run_of(const RelayJob& job, const RelayRace& race, std::size_t t, const PlainRace::Team& plain) {
  const TeamRelay& team = race.teams[t];
  RelayRun run;
  run.team = job.log.name(team.team);
  run.date = race.date;
  run.place = job.log.name(race.place);
  run.trial = race.trial;
  run.timers = team.timers;
  run.leg_covariance_s2 = plain.covariance;
  for (std::size_t k = 0; k < team.legs.size(); ++k) {
    const LegRow& row = team.legs[k];
    RelayLeg& leg = run.legs.emplace_back();
    leg.leg = k + 1;
    leg.clock_s = clock_at(plain, k);
    const auto at = static_cast<Index>(k);
    if (is_told(plain.covariance(at, at))) {
      leg.leg_s = microseconds(plain.leg_s[k]);
      leg.leg_sd_s = std::sqrt(std::max(0.0, plain.covariance(at, at)));
    }
    if (row.there) {
      const std::size_t player = job.player(row.player);
      leg.player = job.log.name(row.player);
      leg.course = job.log.courses[job.data.courses[row.course].course].name;
      leg.flag = row.flag;
      leg.squad_leg_s = row.usual_s;
      leg.own_runs = job.times.players[player].runs > 0;
      leg.own_course = job.times.players[player].course_run[row.course];
    }
  }
  run.total_s = run.legs.empty() ? std::nullopt : run.legs.back().clock_s;
  if (run.total_s) {
    run.total_sd_s = std::sqrt(std::max(0.0, sum_variance(plain.covariance, 0, run.legs.size() - 1)));
  }
  join_legs(plain, run);
  return run;
}

std::optional<RelayHeat> heat_of(const RelayJob& job, const RelayRace& race, std::span<const RelayRun> runs,
                                 std::span<const PlainRace> plain) {
  std::vector<std::size_t> done;
  for (std::size_t t = 0; t < runs.size(); ++t) {
    if (runs[t].total_s) {
      done.push_back(t);
    }
  }
  if (done.size() < 2) {
    return std::nullopt;
  }
  std::stable_sort(done.begin(), done.end(), [&](auto a, auto b) { return *runs[a].total_s < *runs[b].total_s; });
  const auto a = static_cast<Index>(done[0]);
  const auto b = static_cast<Index>(done[1]);
  RelayHeat heat{race.date, job.log.name(race.place), race.trial, runs[done[0]].team, 0.0, 0.0};
  heat.margin_s = *runs[done[1]].total_s - *runs[done[0]].total_s;
  for (std::size_t p = 0; p < plain.size(); ++p) {
    const MatrixXd& c = plain[p].total_covariance;
    const double sd = std::sqrt(std::max(1e-18, c(a, a) + c(b, b) - 2.0 * c(a, b)));
    heat.p_first +=
        job.times.points[p].weight * stats::normal_cdf((plain[p].total_s[done[1]] - plain[p].total_s[done[0]]) / sd);
  }
  heat.p_first = std::min(1.0, heat.p_first);  // weights sum to 1 but for rounding
  return heat;
}

// Exchanges of one date, one a leg in the order of races_in().
struct Exchanges {
  std::vector<Estimate> value;  // with share
  std::vector<double> scatter_s;
};

Exchanges exchanges_on(const RelayJob& job, std::span<const RelayRace> races, std::size_t point) {
  RelayWorld world(job.times, point, job.exchange_mean_s, job.day);
  const WorldOfRaces in = races_in(world, job, races);
  std::vector<stats::LinearQuantity> wanted;
  Exchanges out;
  for (const auto& race : in.legs) {
    for (const auto& team : race) {
      for (const LegQuantities& leg : team) {
        wanted.push_back(leg.exchange);
        out.scatter_s.push_back(leg.scatter_s);
      }
    }
  }
  const stats::JointNormal before = world.times().factors().joint(wanted);
  const stats::JointNormal told =
      world.times().factors().given(wanted, world.times().factors().see(in.observed, in.values));
  for (Index k = 0; k < told.mean.size(); ++k) {
    Estimate e = inference::gaussian_estimate(told.mean(k), told.covariance(k, k), job.options.level);
    if (before.covariance(k, k) > 0.0) {
      e.share_from_data = 1.0 - told.covariance(k, k) / before.covariance(k, k);
    }
    out.value.push_back(e);
  }
  return out;
}

// Where a leg stands: its team, its place in the team, its number on the date.
struct LegPlace {
  std::size_t team = 0, leg = 0, number = 0;
};

// What a leg's time says of its player; nothing where it is flagged, suspicious or not known by itself.
void fill_leg(const RelayJob& job, const LegRow& row, std::span<const PlainRace> plain,
              std::span<const Exchanges> exchanges, const LegPlace& at, RelayLeg& leg) {
  if (!row.tells() || !leg.leg_s) {
    return;
  }
  std::vector<double> weights;
  for (const inference::TimesPoint& point : job.times.points) {
    weights.push_back(point.weight);
  }
  const auto merged = [&](auto&& at_point) {
    std::vector<Estimate> versions;
    for (std::size_t p = 0; p < weights.size(); ++p) {
      versions.push_back(at_point(p));
    }
    return merge_estimates(weights, versions, job.options.level);
  };
  if (leg.own_course) {
    const double share = job.times.players[job.player(row.player)].share_from_data[row.course];
    leg.against_own_runs_s = merged([&](std::size_t p) {
      const PlainRace::Team& team = plain[p].teams[at.team];
      Estimate e =
          inference::gaussian_estimate(team.against_s[at.leg], team.against_variance[at.leg], job.options.level);
      e.share_from_data = share;
      return e;
    });
    leg.usual_scatter_s = 0.0;
    for (std::size_t p = 0; p < weights.size(); ++p) {
      *leg.usual_scatter_s += weights[p] * exchanges[p].scatter_s[at.number];
    }
  }
  if (at.leg > 0 && leg.own_course) {
    leg.exchange_s = merged([&](std::size_t p) { return exchanges[p].value[at.number]; });
  } else if (at.leg > 0) {
    leg.exchange_and_loss_s = merged([&](std::size_t p) {
      const PlainRace::Team& team = plain[p].teams[at.team];
      return inference::gaussian_estimate(team.with_loss_s[at.leg], team.with_loss_variance[at.leg], job.options.level);
    });
  }
}

}  // namespace

std::size_t RelayJob::player(runs::NameId name) const {
  const std::string& id = log.name(name);
  const auto found = std::find_if(times.players.begin(), times.players.end(),
                                  [&](const inference::KnownPlayer& p) { return p.player == id; });
  return static_cast<std::size_t>(found - times.players.begin());
}

std::span<const RelayRace> races_on(const RelayData& data, runs::Date date) {
  const auto from =
      std::find_if(data.races.begin(), data.races.end(), [&](const RelayRace& r) { return r.date == date; });
  const auto to = std::find_if(from, data.races.end(), [&](const RelayRace& r) { return r.date != date; });
  return {data.races.data() + (from - data.races.begin()), static_cast<std::size_t>(to - from)};
}

WorldOfRaces races_in(RelayWorld& world, const RelayJob& job, std::span<const RelayRace> races) {
  WorldOfRaces out;
  for (const RelayRace& race : races) {
    auto& in_race = out.legs.emplace_back();
    std::vector<std::vector<stats::LinearQuantity>> plain;
    for (const TeamRelay& team : race.teams) {
      auto& in_team = in_race.emplace_back();
      auto& plain_team = plain.emplace_back();
      for (std::size_t k = 0; k < team.legs.size(); ++k) {
        const LegRow& row = team.legs[k];
        if (row.tells()) {
          in_team.push_back(world.leg(job.player(row.player), row.course, k == 0, row.signal, race.date));
        } else {
          in_team.push_back({world.unknown_leg(), {}, 0.0});
        }
        plain_team.push_back(in_team.back().leg);
      }
    }
    world.read(race, plain, out.observed, out.values);
  }
  return out;
}

void analyse_races(const RelayJob& job, RelayResult& result) {
  const std::size_t points = job.times.points.size();
  for (std::size_t r = 0; r < job.data.races.size();) {
    const std::span<const RelayRace> races = races_on(job.data, job.data.races[r].date);
    r += races.size();
    std::vector<Exchanges> exchanges;
    for (std::size_t p = 0; p < points; ++p) {
      exchanges.push_back(exchanges_on(job, races, p));
    }
    std::size_t number = 0;  // of the leg on this date
    for (const RelayRace& race : races) {
      std::vector<PlainRace> plain;
      for (std::size_t p = 0; p < points; ++p) {
        plain.push_back(plain_race(job, p, race));
      }
      const std::size_t first_run = result.runs.size();
      for (std::size_t t = 0; t < race.teams.size(); ++t) {
        RelayRun run = run_of(job, race, t, plain.front().teams[t]);
        for (std::size_t k = 0; k < run.legs.size(); ++k, ++number) {
          fill_leg(job, race.teams[t].legs[k], plain, exchanges, {t, k, number}, run.legs[k]);
        }
        result.runs.push_back(std::move(run));
      }
      if (const auto heat = heat_of(job, race, std::span(result.runs).subspan(first_run), plain)) {
        result.heats.push_back(*heat);
      }
    }
  }
}

}  // namespace bagsplit::jobs
