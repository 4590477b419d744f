#include "bagsplit/jobs/relay/detail/relay_world.hpp"

#include <cmath>
#include <limits>
#include <tuple>

namespace bagsplit::jobs {

namespace {

// SD of a leg nothing is thought of: so wide that it moves nothing by a nanosecond.
constexpr double unknown_sd_s = 1000.0;
constexpr double unknown_mean_s = 10.0;

}  // namespace

RelayWorld::RelayWorld(const inference::SquadTimes& times, std::size_t point, std::vector<double> exchange_mean_s,
                       std::optional<runs::Date> day)
    : known_(times), world_(times, point), exchange_mean_s_(std::move(exchange_mean_s)), day_(day) {
  exchange_common_ = world_.factors().add(exchange_common_sd_s);
}

stats::LinearQuantity RelayWorld::exchange_mean(std::size_t player) {
  const auto [own, is_new] = exchange_own_.try_emplace(player, 0);
  if (is_new) {
    own->second = world_.factors().add(exchange_own_sd_s);
  }
  stats::LinearQuantity out{exchange_mean_s_.at(player)};
  return out.add(exchange_common_, 1.0).add(own->second, 1.0);
}

stats::LinearQuantity RelayWorld::own_time(std::size_t player, std::size_t course, bool signal) const {
  stats::LinearQuantity out = world_.component(player, known_.index.moving(course));
  return signal ? out.add(world_.component(player, known_.index.reaction())) : out;
}

stats::LinearQuantity RelayWorld::straight(std::size_t player, std::size_t course) const {
  return world_.component(player, known_.index.straight(course));
}

stats::LinearQuantity RelayWorld::expected_leg(std::size_t player, std::size_t course, bool first) {
  stats::LinearQuantity out = own_time(player, course, first);
  return first ? out : out.add(exchange_mean(player));
}

LegQuantities RelayWorld::leg(std::size_t player, std::size_t course, bool first, bool signal,
                              std::optional<runs::Date> date) {
  const inference::TimesPoint& point = world_.point();
  const double straight_s = point.players[player].mean(static_cast<Eigen::Index>(known_.index.straight(course)));
  const double effort_s = point.scales.effort_cv * straight_s;
  const double form_s = point.scales.day_cv * straight_s;
  LegQuantities out;
  out.leg = own_time(player, course, first && signal);
  out.leg.add(world_.factors().add(effort_s), 1.0);
  if (known_.form_told && date && date == day_) {
    out.leg.add(world_.component(player, known_.index.form(course)));
  } else {
    const auto when = date ? date->time_since_epoch().count() : std::numeric_limits<std::int64_t>::max();
    const auto [form, is_new] = form_.try_emplace({player, when}, 0);
    if (is_new) {
      form->second = world_.factors().add(1.0);
    }
    out.leg.add(form->second, form_s);
  }
  double start_s = 0.0;
  if (!first) {
    start_s = exchange_scatter_s;
    out.exchange = exchange_mean(player);
    out.exchange.add(world_.factors().add(start_s), 1.0);
    out.leg.add(out.exchange);
  } else if (signal) {
    start_s = point.scales.reaction_sd_s;
    out.leg.add(world_.factors().add(start_s), 1.0);
  }
  out.scatter_s = std::sqrt(effort_s * effort_s + form_s * form_s + start_s * start_s);
  return out;
}

stats::LinearQuantity RelayWorld::unknown_leg() {
  stats::LinearQuantity out{unknown_mean_s};
  return out.add(world_.factors().add(unknown_sd_s), 1.0);
}

void RelayWorld::read(const RelayRace& race, const std::vector<std::vector<stats::LinearQuantity>>& legs,
                      std::vector<stats::LinearQuantity>& observed, std::vector<double>& values) {
  constexpr std::size_t all_teams = std::numeric_limits<std::size_t>::max();
  std::map<std::pair<std::size_t, std::size_t>, std::size_t> starts;                 // of a team's clock
  std::map<std::tuple<std::size_t, std::size_t, std::size_t>, std::size_t> presses;  // team, clock, leg
  const auto press = [&](const RelayReading& r, std::size_t leg) {
    const auto [at, is_new] = presses.try_emplace({r.team, r.clock, leg}, 0);
    if (is_new) {
      at->second = world_.factors().add(world_.point().clocks[r.clock].split_sd_s);
    }
    return at->second;
  };
  for (const RelayReading& r : race.readings) {
    stats::LinearQuantity seen;
    seen.add(press(r, r.leg), 1.0);
    if (r.lap) {
      seen.add(press(r, r.leg - 1), -1.0).add(legs[r.team][r.leg]);
    } else {
      const auto [start, is_new] = starts.try_emplace({r.one_watch ? all_teams : r.team, r.clock}, 0);
      if (is_new) {
        start->second = world_.factors().add(world_.point().clocks[r.clock].start_sd_s);
      }
      seen.add(start->second, 1.0).add(world_.bias(r.clock));
      for (std::size_t leg = 0; leg <= r.leg; ++leg) {
        seen.add(legs[r.team][leg]);
      }
    }
    observed.push_back(std::move(seen));
    values.push_back(r.time_s);
  }
}

}  // namespace bagsplit::jobs
