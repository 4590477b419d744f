#include "bagsplit/inference/season/detail/changes.hpp"

#include <algorithm>
#include <cmath>
#include <utility>

#include "bagsplit/stats/random.hpp"

namespace bagsplit::season {

namespace {

constexpr double no_change = 1e-9;  // a change that is none has all its weight at 0

/// Beside the early readings, how much the shared conditions are reckoned to have added to the late ones, share.
double conditions(const Fit::State& state, const ChildRows& child, const Windows& windows,
                  const Eigen::VectorXd& shared) {
  const auto& places = state.design.places;
  double out = 0.0;
  for (const auto& [dates, sign] : {std::pair{&windows.early, -1.0}, std::pair{&windows.late, 1.0}}) {
    double sum = 0.0, count = 0.0;
    for (const auto& row : child.rows) {
      if (std::find(dates->begin(), dates->end(), row.date) == dates->end()) {
        continue;
      }
      count += 1.0;
      for (const auto& [place, coefficient] : row.shared) {
        sum += place == places.rate   ? 0.0
               : place == places.wind ? coefficient * (1.0 + shared[place])
                                      : coefficient * shared[place];
      }
    }
    out += count > 0.0 ? sign * sum / count : 0.0;
  }
  return out;
}

bool has_date_of(const ChildRows& child, const std::vector<int>& dates) {
  return std::any_of(child.rows.begin(), child.rows.end(),
                     [&](const Row& row) { return std::find(dates.begin(), dates.end(), row.date) != dates.end(); });
}

/// Moving time that the answer is in: at the reference level, or typical of the child where it has none there.
double moving_time_of(const Design& design, const ChildRows& child) {
  const double own = child.moving_s[static_cast<std::size_t>(design.reference)];
  if (own > 0.0) {
    return own;
  }
  std::vector<double> all;
  for (const auto& row : child.rows) {
    all.push_back(row.moving_s);
  }
  std::sort(all.begin(), all.end());
  return 0.5 * (all[(all.size() - 1) / 2] + all[all.size() / 2]);
}

void tell_when_and_what(const Fit::State& state, Change& change) {
  const auto& shapes = state.design.shapes;
  const auto weights = shape_weights(state, static_cast<std::size_t>(change.child));
  change.p_step_before.assign(state.season.days.size() - 1, 0.0);
  for (std::size_t s = 0; s < shapes.size(); ++s) {
    (shapes[s].gap == 0 ? change.p_line : change.p_step_before[static_cast<std::size_t>(shapes[s].gap) - 1]) +=
        weights[s];
    change.p_top_speed += shapes[s].part == Part::top_speed ? weights[s] : 0.0;
    change.p_first_acceleration += shapes[s].part == Part::first_acceleration ? weights[s] : 0.0;
  }
}

Change change_of(const Fit::State& state, std::size_t i, const Windows& windows, const std::vector<Moment>& moments,
                 const Eigen::VectorXd& shared) {
  const auto& design = state.design;
  const auto& options = state.options;
  const auto& child = design.children[i];
  Change out{.child = static_cast<int>(i)};
  if (child.rows.empty()) {
    return out;
  }
  out.seen_early_and_late = has_date_of(child, windows.early) && has_date_of(child, windows.late);
  const double moving = moving_time_of(design, child);
  Asked asked{.child = i, .level = design.reference, .moments = moments};
  const auto learnt = ask(state, asked);
  asked.odds = options.interval_odds;
  const auto wide = ask(state, asked);
  const double half = 0.5 * (1.0 - options.interval_level);
  const auto interval = [&](const stats::MixtureOfNormals& mixture) {
    return stats::Interval{moving * mixture.quantile(half), moving * mixture.quantile(1.0 - half)};
  };
  out.change_s = moving * learnt.state.mean();
  out.interval_s = interval(wide.state);
  out.beyond_growth_s = {moving * learnt.beyond.mean(), moving * learnt.beyond.sd()};
  out.beyond_growth_interval_s = interval(wide.beyond);
  double years = 0.0;
  for (const auto& moment : moments) {
    out.growth_s.mean += moving * moment.weight * design.growth_at(i, moment.day);
    years += moment.weight * design.years_at(moment.day);
  }
  out.growth_s.sd = moving * child.growth_sd_per_yr * std::fabs(years);
  out.p_faster = learnt.beyond.below(-no_change);
  out.p_slower = 1.0 - learnt.beyond.below(no_change);
  out.p_changed = out.p_faster + out.p_slower;
  out.p_faster_worth = learnt.beyond.below(-options.worth);
  out.p_slower_worth = 1.0 - learnt.beyond.below(options.worth);
  out.p_as_growth = 1.0 - out.p_faster_worth - out.p_slower_worth;
  out.p_total_faster = learnt.state.below(0.0);
  out.conditions_s = moving * conditions(state, child, windows, shared);
  tell_when_and_what(state, out);
  return out;
}

}  // namespace

Windows thirds(std::size_t dates) {
  const std::size_t k = dates <= 3 ? 1 : (dates + 2) / 3;
  Windows windows;
  for (std::size_t i = 0; i < k; ++i) {
    windows.early.push_back(static_cast<int>(i));
    windows.late.push_back(static_cast<int>(dates - k + i));
  }
  return windows;
}

std::vector<Moment> moments_of(const Season& season, const Windows& windows) {
  std::vector<Moment> moments;
  for (const auto& [dates, sign] : {std::pair{&windows.early, -1.0}, std::pair{&windows.late, 1.0}}) {
    for (const int date : *dates) {
      moments.push_back({season.days[static_cast<std::size_t>(date)], sign / static_cast<double>(dates->size())});
    }
  }
  return moments;
}

std::vector<Change> changes_between(const Fit::State& state, const Windows& windows) {
  const auto moments = moments_of(state.season, windows);
  Eigen::VectorXd shared = Eigen::VectorXd::Zero(state.design.places.count());
  for (const auto& point : state.fitted.points) {
    shared += point.weight * point.squad.mean;
  }
  std::vector<Change> changes(state.season.children.size());
  stats::for_each_index(changes.size(), state.options.threads,
                        [&](std::size_t i) { changes[i] = change_of(state, i, windows, moments, shared); });
  std::vector<Judged> judged;
  for (const auto& change : changes) {
    judged.push_back({change.p_faster, change.p_slower, change.p_as_growth, change.seen_early_and_late});
  }
  const auto words_of_all = verdicts(judged);
  for (std::size_t i = 0; i < changes.size(); ++i) {
    changes[i].verdict = words_of_all[i];
  }
  return changes;
}

}  // namespace bagsplit::season
