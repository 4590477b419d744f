#include "bagsplit/inference/season/fit.hpp"

#include <algorithm>
#include <cmath>
#include <stdexcept>
#include <string>
#include <utility>

#include "bagsplit/inference/season/detail/changes.hpp"

namespace bagsplit::season {

namespace {

std::pair<Index, Index> places_of(const SharedPlaces& places, Shared kind) {
  switch (kind) {
    case Shared::evening:
      return {places.evenings, places.timers};
    case Shared::timer:
      return {places.timers, places.devices};
    case Shared::device:
      return {places.devices, places.grounds};
    case Shared::ground:
      break;
  }
  return {places.grounds, places.wind};
}

Index place_of(const Design& design, Shared kind, int index) {
  const auto [first, end] = places_of(design.places, kind);
  if (index < 0 || index >= end - first) {
    throw std::invalid_argument("season: index " + std::to_string(index) + " of what is shared, but there are " +
                                std::to_string(end - first));
  }
  return first + index;
}

void check_windows(const Design& design, const std::vector<int>& early, const std::vector<int>& late) {
  for (const auto* window : {&early, &late}) {
    if (window->empty()) {
      throw std::invalid_argument("season: a window without dates");
    }
    for (const int date : *window) {
      place_of(design, Shared::evening, date);
    }
  }
}

void check_asked(const Design& design, int child, int level) {
  if (child < 0 || static_cast<std::size_t>(child) >= design.children.size() || level < 0 ||
      static_cast<std::size_t>(level) >= design.season.levels.size()) {
    throw std::invalid_argument("season: no child " + std::to_string(child) + " or no level " + std::to_string(level));
  }
}

SharedEffect effect_at(const Fit::State& state, Index place) {
  const Eigen::VectorXd unit = Eigen::VectorXd::Unit(state.design.places.count(), place);
  SharedEffect effect{.value = over_points(state.fitted, unit)};
  double prior_var = state.design.shared_var[place];
  if (place < state.design.places.timers) {
    prior_var = 0.0;
    for (const auto& point : state.fitted.points) {
      prior_var += point.weight * point.evening_sd * point.evening_sd;
    }
  }
  effect.share_from_data = std::clamp(1.0 - effect.value.sd * effect.value.sd / prior_var, 0.0, 1.0);
  return effect;
}

/// What the middle child would be told, from its information on a line through the season.
std::optional<double> smallest_detectable(const Fit::State& state) {
  const auto& fitted = state.fitted;
  const auto& best = *std::max_element(fitted.points.begin(), fitted.points.end(),
                                       [](const Point& a, const Point& b) { return a.weight < b.weight; });
  std::vector<double> information;
  for (std::size_t i = 0; i < fitted.children.size(); ++i) {
    if (fitted.units[i].size() > 0) {
      const auto& change = fitted.changes[i];
      const Eigen::VectorXd shared = change.with_shared.col(0);
      information.push_back(change.information[0] - shared.dot(best.views[i].covariance * shared));
    }
  }
  std::sort(information.begin(), information.end());
  const auto n = information.size();
  const double middle = 0.5 * (information[(n - 1) / 2] + information[n / 2]);
  const double share = state.squad.share_changed;
  if (!(middle > 0.0) || !(share > 0.0)) {
    return std::nullopt;
  }
  double line = 0.0;
  for (const auto& moment : moments_of(state.season, thirds(state.season.days.size()))) {
    line += moment.weight * state.design.shape_at(state.design.shapes[0], moment.day);
  }
  return line * detectable_change(middle, share, std::max(state.squad.usual_size, 0.02), state.design.shapes[0].weight);
}

Estimate common_move_of(const Fit::State& state, const Windows& windows) {
  double years = 0.0;
  for (const auto& moment : moments_of(state.season, windows)) {
    years += moment.weight * state.design.years_at(moment.day);
  }
  const auto& places = state.design.places;
  return over_points(state.fitted, years * Eigen::VectorXd::Unit(places.count(), places.rate));
}

Squad squad_of(const Fit::State& state) {
  const auto& design = state.design;
  const auto& fitted = state.fitted;
  Squad squad{.scales = fitted.scales, .slip_rate = fitted.slip_rate, .reference_level = design.reference};
  for (const auto& point : fitted.points) {
    squad.share_changed += point.weight * point.share;
    squad.usual_size += point.weight * point.size;
  }
  squad.common_move = common_move_of(state, thirds(state.season.days.size()));
  squad.wind_factor = effect_at(state, design.places.wind);
  return squad;
}

}  // namespace

Fit::State::State(Season given, Options how)
    : season(std::move(given)), options(how), design(make_design(season, options)), fitted(fit_design(design)) {
  squad = squad_of(*this);
  squad.smallest_detectable = smallest_detectable(*this);
}

Fit::Fit(std::shared_ptr<const State> state) : state_(std::move(state)) {}

const Squad& Fit::squad() const {
  return state_->squad;
}

std::vector<SuspectedReading> Fit::suspected(double p_at_least) const {
  std::vector<SuspectedReading> out;
  for (const auto& child : state_->design.children) {
    for (const auto& row : child.rows) {
      if (row.slip >= p_at_least) {
        out.push_back({row.reading, row.slip, row.moving_s * row.off, row.moving_s * row.off_sd});
      }
    }
  }
  std::sort(out.begin(), out.end(), [](const auto& a, const auto& b) { return a.reading < b.reading; });
  return out;
}

std::vector<SuspectedEvening> Fit::suspected_evenings(double p_at_least) const {
  std::vector<SuspectedEvening> out;
  const auto& children = state_->design.children;
  for (std::size_t child = 0; child < children.size(); ++child) {
    for (std::size_t date = 0; date < children[child].evening_slip.size(); ++date) {
      if (children[child].evening_slip[date] >= p_at_least) {
        out.push_back({static_cast<int>(child), static_cast<int>(date), children[child].evening_slip[date]});
      }
    }
  }
  return out;
}

SharedEffect Fit::shared(Shared kind, int index) const {
  return effect_at(*state_, place_of(state_->design, kind, index));
}

Estimate Fit::difference(Shared kind, int from, int to) const {
  Eigen::VectorXd coefficients = Eigen::VectorXd::Zero(state_->design.places.count());
  coefficients[place_of(state_->design, kind, to)] += 1.0;
  coefficients[place_of(state_->design, kind, from)] -= 1.0;
  return over_points(state_->fitted, coefficients);
}

std::vector<Change> Fit::changes() const {
  return changes_between(*state_, thirds(state_->season.days.size()));
}

std::vector<Change> Fit::changes(const std::vector<int>& early, const std::vector<int>& late) const {
  check_windows(state_->design, early, late);
  return changes_between(*state_, {early, late});
}

Estimate Fit::common_move(const std::vector<int>& early, const std::vector<int>& late) const {
  check_windows(state_->design, early, late);
  return common_move_of(*state_, {early, late});
}

std::optional<Ability> Fit::ability(int child, int level, double day, std::optional<int> ground) const {
  check_asked(state_->design, child, level);
  const auto& children = state_->design.children;
  const auto& rows = children[static_cast<std::size_t>(child)];
  const auto at = static_cast<std::size_t>(level);
  const bool knows_ground = !ground || std::binary_search(rows.touched.begin(), rows.touched.end(),
                                                          place_of(state_->design, Shared::ground, *ground));
  if (!(rows.median_s[at] > 0.0) || !knows_ground) {
    return std::nullopt;
  }
  Asked asked{.child = static_cast<std::size_t>(child),
              .level = level,
              .moments = {{day, 1.0}},
              .with_level = true,
              .ground = ground};
  const auto learnt = ask(*state_, asked).state;
  asked.odds = state_->options.interval_odds;
  const auto wide = ask(*state_, asked).state;
  const double half = 0.5 * (1.0 - state_->options.interval_level);
  const auto seconds = [&](double share) { return rows.median_s[at] + rows.moving_s[at] * share; };
  return Ability{.time_s = {seconds(learnt.mean()), rows.moving_s[at] * learnt.sd()},
                 .interval_s = {seconds(wide.quantile(half)), seconds(wide.quantile(1.0 - half))}};
}

Ability Fit::lead(int child, int level, double day, const std::vector<double>& date_weights) const {
  check_asked(state_->design, child, level);
  const auto& days = state_->season.days;
  if (date_weights.size() != days.size() || state_->fitted.units[static_cast<std::size_t>(child)].size() == 0) {
    throw std::invalid_argument("season: as many weights as dates, and a child with readings");
  }
  Asked asked{.child = static_cast<std::size_t>(child), .level = level, .moments = {{day, 1.0}}};
  for (std::size_t d = 0; d < days.size(); ++d) {
    if (date_weights[d] != 0.0) {
      asked.moments.push_back({days[d], -date_weights[d]});
    }
  }
  const double mean = ask(*state_, asked).state.mean();
  asked.odds = state_->options.interval_odds;
  const auto wide = ask(*state_, asked).state;
  const double half = 0.5 * (1.0 - state_->options.interval_level);
  return {.time_s = {mean, std::hypot(wide.sd(), wide.mean() - mean)},
          .interval_s = {wide.quantile(half), wide.quantile(1.0 - half)}};
}

Fit fit_season(Season season, Options options) {
  return Fit(std::make_shared<const Fit::State>(std::move(season), options));
}

}  // namespace bagsplit::season
