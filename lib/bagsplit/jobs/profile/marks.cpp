#include "bagsplit/jobs/profile/marks.hpp"

#include <algorithm>
#include <cmath>
#include <numeric>

#include "bagsplit/jobs/profile/advice.hpp"
#include "bagsplit/jobs/profile/profile.hpp"
#include "bagsplit/jobs/trend/season_trend.hpp"
#include "bagsplit/motion/curve.hpp"

namespace bagsplit::jobs {

namespace {

constexpr double own_share = 0.5;        // below, a value is mostly the others'
constexpr double nine_in_ten = 1.6449;   // normal quantile of 0.95
constexpr std::size_t least_others = 3;  // children a middle is taken of
constexpr double no_base_m = 20.0;       // steps and speed are told over this where no base distance is known

long to_hundredths(double seconds) {
  return std::lround(100.0 * seconds);
}

bool own(const Estimate& estimate) {
  return estimate.share_from_data.value_or(0.0) >= own_share;
}

double middle_of(std::vector<double> values) {
  std::sort(values.begin(), values.end());
  const std::size_t n = values.size();
  return n % 2 == 1 ? values[n / 2] : 0.5 * (values[n / 2 - 1] + values[n / 2]);
}

Marked not_known(Unknown why) {
  return {Mark::unknown, why, std::nullopt, std::nullopt};
}

const Estimate* estimate_named(const std::vector<NamedEstimate>& estimates, std::string_view name) {
  const auto found = std::find_if(estimates.begin(), estimates.end(), [&](const auto& e) { return e.name == name; });
  return found == estimates.end() ? nullptr : &found->value;
}

// A value of each child beside what was expected at its age, on a scale where that is a difference.
struct Beside {
  bool timed = false, own = false;
  double residual = 0.0, sd = 0.0;
  std::optional<double> age_years;
};

// What the squad has beyond what was expected: its middle, on a line over age where one is wanted and ages differ.
class Middle {
 public:
  Middle(const std::vector<Beside>& squad, bool over_age) {
    std::vector<const Beside*> known;
    for (const Beside& one : squad) {
      if (one.own) {
        known.push_back(&one);
      }
    }
    count_ = known.size();
    if (count_ < least_others) {
      return;
    }
    // Slope: the middle of the slopes between any two (Theil-Sen), so that one odd child does not turn the line.
    std::vector<double> slopes;
    for (std::size_t i = 0; over_age && i < known.size(); ++i) {
      for (std::size_t j = 0; j < i; ++j) {
        if (known[i]->age_years && known[j]->age_years && std::abs(*known[i]->age_years - *known[j]->age_years) > 0.5) {
          slopes.push_back((known[i]->residual - known[j]->residual) / (*known[i]->age_years - *known[j]->age_years));
        }
      }
    }
    constexpr std::size_t least_slopes = 6;  // four children of different ages
    by_age_ = slopes.size() >= least_slopes;
    slope_ = by_age_ ? middle_of(std::move(slopes)) : 0.0;
    std::vector<double> rest;
    for (const Beside* one : known) {
      if (!by_age_ || one->age_years) {
        rest.push_back(one->residual - slope_ * one->age_years.value_or(0.0));
      }
    }
    level_ = middle_of(rest);
    std::vector<double> off;
    for (const double value : rest) {
      off.push_back(std::abs(value - level_));
    }
    // Standard error of a median of normal values, from the median absolute deviation.
    sd_ = 1.2533 * 1.4826 * middle_of(off) / std::sqrt(static_cast<double>(rest.size()));
  }

  Unknown why(const Beside& child) const {
    return !child.timed                  ? Unknown::never_timed
           : !child.own                  ? Unknown::few_runs
           : by_age_ && !child.age_years ? Unknown::no_age
           : count_ < least_others       ? Unknown::few_children
                                         : Unknown::none;
  }
  double at(const Beside& child) const { return level_ + slope_ * child.age_years.value_or(0.0); }
  double sd() const { return sd_; }

 private:
  std::size_t count_ = 0;
  bool by_age_ = false;
  double slope_ = 0.0, level_ = 0.0, sd_ = 0.0;
};

Beside beside(const PlayerProfile& player, const Estimate* estimate, double expected) {
  if (estimate == nullptr) {
    return {};
  }
  return {true, own(*estimate), estimate->mean - expected, estimate->sd, player.age_years};
}

// On the scale of logarithms, for what is told in seconds at first base.
Beside beside_log(const PlayerProfile& player, const std::optional<Estimate>& estimate, double expected_log) {
  if (!estimate) {
    return {};
  }
  return {true, own(*estimate), std::log(estimate->median) - expected_log, estimate->sd / estimate->mean,
          player.age_years};
}

std::vector<Beside> of_all(const ProfileResult& result, const auto& value) {
  std::vector<Beside> out;
  for (const PlayerProfile& player : result.players) {
    out.push_back(value(player));
  }
  return out;
}

constexpr std::size_t mark_place(std::string_view what) {
  std::size_t at = 0;
  while (marked_quantities[at].what != what) {
    ++at;
  }
  return at;
}

// Call and get-up: seconds as they are.
void mark_seconds(ProfileResult& result, std::string_view what, bool over_age, const auto& value) {
  const std::size_t column = mark_place(what);
  const std::vector<Beside> squad = of_all(result, value);
  const Middle middle(squad, over_age);
  for (std::size_t k = 0; k < squad.size(); ++k) {
    const Unknown why = middle.why(squad[k]);
    result.players[k].marks[column] = why != Unknown::none
                                          ? not_known(why)
                                          : marked(marked_quantities[column], squad[k].residual - middle.at(squad[k]),
                                                   std::hypot(squad[k].sd, middle.sd()));
  }
}

// Steps and speed: seconds from standing still to first base, were that one quantity the squad's.
// @param time  seconds there for the player's sprint with the log of the quantity moved by so much.
void mark_at_first(ProfileResult& result, std::string_view what, const auto& value, const auto& time) {
  const std::size_t column = mark_place(what);
  const std::vector<Beside> squad = of_all(result, value);
  const Middle middle(squad, false);
  for (std::size_t k = 0; k < squad.size(); ++k) {
    PlayerProfile& player = result.players[k];
    Unknown why = middle.why(squad[k]);
    if (what == "speed" && why == Unknown::none && !player.age_years) {
      why = Unknown::no_age;
    }
    if (why != Unknown::none) {
      player.marks[column] = not_known(why);
      continue;
    }
    const double beyond = squad[k].residual - middle.at(squad[k]);
    const double sd = std::hypot(squad[k].sd, middle.sd());
    const double here = time(player, 0.0);
    const double slope = 0.5 * std::abs(time(player, sd) - time(player, -sd));
    player.marks[column] = marked(marked_quantities[column], here - time(player, -beyond), slope);
  }
}

// Where the clock's start, or whose a run is, is in doubt nothing is said of any start; of the first steps only what is
// the child's own, and to work on only for the slowest tenth of the squad.
void doubt_starts(const FirstSteps& squad, PlayerProfile& player) {
  const bool in_doubt = squad.clock != FirstSteps::Clock::fits || player.start_in_doubt;
  if (in_doubt) {
    for (const std::string_view what : {"call", "get-up"}) {
      Marked& mark = player.marks[mark_place(what)];
      mark = mark.why == Unknown::never_timed ? mark : not_known(Unknown::clock);
    }
  }
  Marked& steps = player.marks[mark_place("first-steps")];
  if (steps.why == Unknown::never_timed) {
    return;
  }
  const auto& own_part = player.own_first_acceleration;
  if (in_doubt || !squad.advice()) {
    steps = not_known(Unknown::clock);
  } else if (!own_part || !own_part->told()) {
    steps = not_known(Unknown::few_runs);
  } else if (steps.mark == Mark::work && !own_part->surely_in_slowest_tenth()) {
    steps.mark = Mark::ordinary;
  }
}

void mark_bags(PlayerProfile& player) {
  for (std::size_t column = 0; column < marked_quantities.size(); ++column) {
    const MarkedQuantity& quantity = marked_quantities[column];
    if (!quantity.at_bag) {
      continue;
    }
    const Estimate* loss = estimate_named(player.segment_loss_s, quantity.what);
    // A turn that the best path cannot spare either is no fault, so without one nothing is known.
    const Estimate* beyond = estimate_named(player.loss_to_best_path_by_segment_s, quantity.what);
    player.marks[column] = loss == nullptr                    ? not_known(Unknown::never_timed)
                           : !own(*loss) || beyond == nullptr ? not_known(Unknown::few_runs)
                                                              : marked(quantity, beyond->mean, beyond->sd);
  }
}

}  // namespace

Marked marked(const MarkedQuantity& quantity, double mean_s, double sd_s) {
  Marked out;
  const long cost = to_hundredths(mean_s);
  const long give = static_cast<long>(std::ceil(100.0 * nine_in_ten * sd_s - 1e-9));
  const long limit = to_hundredths(quantity.surely_s);
  out.cost_s = static_cast<double>(cost) / 100.0;
  out.give_or_take_s = static_cast<double>(give) / 100.0;
  out.mark = cost - give > limit                     ? Mark::work
             : cost + give < -limit                  ? Mark::good
             : give > to_hundredths(quantity.wide_s) ? Mark::unknown
                                                     : Mark::ordinary;
  out.why = out.mark == Mark::unknown ? Unknown::few_runs : Unknown::none;
  return out;
}

void mark_squad(ProfileResult& result) {
  const auto first_m = [](const PlayerProfile& player) { return player.base_distance_m.value_or(no_base_m); };
  const auto moved = [&](const PlayerProfile& player, double speed, double steps) {
    return motion::time_to_distance(
        {player.top_speed_mps->median * std::exp(speed), player.time_constant_s->median * std::exp(steps)},
        first_m(player));
  };
  mark_seconds(result, "call", false, [](const PlayerProfile& player) {
    return beside(player, player.reaction_s ? &*player.reaction_s : nullptr, player.prior_reaction_s.mean);
  });
  mark_seconds(result, "get-up", true, [](const PlayerProfile& player) {
    const auto& priors = player.prior_posture_cost_s;
    const auto prior = std::find_if(priors.begin(), priors.end(), [](const auto& p) { return p.first == "prone"; });
    return beside(player, estimate_named(player.posture_cost_s, "prone"),
                  prior == priors.end() ? 0.0 : prior->second.mean);
  });
  mark_at_first(
      result, "first-steps",
      [](const PlayerProfile& player) {
        return beside_log(player, player.time_constant_s, player.prior_log_time_constant.mean);
      },
      [&](const PlayerProfile& player, double by) { return moved(player, 0.0, by); });
  mark_at_first(
      result, "speed",
      [](const PlayerProfile& player) {
        Beside out = beside_log(player, player.top_speed_mps, player.prior_log_top_speed.mean);
        out.own = out.own && player.age_years.has_value();
        return out;
      },
      [&](const PlayerProfile& player, double by) { return moved(player, by, 0.0); });
  for (PlayerProfile& player : result.players) {
    if (result.squad) {
      doubt_starts(result.squad->first_steps, player);
    }
    mark_bags(player);
    advise(player);
  }
}

void mark_changes(ProfileResult& result, const SeasonTrend& trend) {
  using season::Verdict;
  for (PlayerProfile& player : result.players) {
    Marked& mark = player.marks[change_quantity];
    const auto found = std::find_if(trend.players.begin(), trend.players.end(),
                                    [&](const SeasonPlayer& one) { return one.player == player.player; });
    if (found == trend.players.end() || !found->change || !found->change->seen_early_and_late) {
      mark = not_known(Unknown::two_dates);
      continue;
    }
    const season::Change& change = *found->change;
    const stats::Interval& range = change.beyond_growth_interval_s;
    mark.cost_s = static_cast<double>(to_hundredths(change.beyond_growth_s.mean)) / 100.0;
    mark.give_or_take_s = std::ceil(50.0 * (range.hi - range.lo) - 1e-9) / 100.0;
    mark.mark = change.verdict == Verdict::surely_faster   ? Mark::good
                : change.verdict == Verdict::surely_slower ? Mark::work
                                                           : Mark::ordinary;
    mark.why = Unknown::none;
  }
}

std::vector<std::size_t> timed_quantities(const ProfileResult& result) {
  std::vector<std::size_t> out;
  for (std::size_t column = 0; column < marked_quantities.size(); ++column) {
    if (std::any_of(result.players.begin(), result.players.end(), [&](const PlayerProfile& player) {
          const Unknown why = player.marks[column].why;
          return why != Unknown::never_timed && why != Unknown::two_dates;
        })) {
      out.push_back(column);
    }
  }
  return out;
}

MarkGroup group_of(const PlayerProfile& player, const std::vector<std::size_t>& timed) {
  const auto count = [&](Mark mark) {
    return std::count_if(timed.begin(), timed.end(), [&](std::size_t k) { return player.marks[k].mark == mark; });
  };
  return count(Mark::work) > 0                                                   ? MarkGroup::to_win
         : 2 * count(Mark::unknown) >= static_cast<std::ptrdiff_t>(timed.size()) ? MarkGroup::not_known
         : count(Mark::good) > 0                                                 ? MarkGroup::strengths
                                                                                 : MarkGroup::ordinary;
}

std::vector<std::size_t> by_what_matters(const ProfileResult& result, const std::vector<std::size_t>& timed) {
  const auto key = [&](std::size_t k) {
    const PlayerProfile& player = result.players[k];
    const MarkGroup group = group_of(player, timed);
    long to_win = 0;
    for (const std::size_t column : timed) {
      const Marked& one = player.marks[column];
      to_win += group == MarkGroup::to_win && one.mark == Mark::work ? to_hundredths(one.cost_s.value_or(0.0)) : 0;
    }
    return std::pair(group, -to_win);
  };
  std::vector<std::size_t> order(result.players.size());
  std::iota(order.begin(), order.end(), std::size_t{0});
  std::stable_sort(order.begin(), order.end(), [&](std::size_t a, std::size_t b) { return key(a) < key(b); });
  return order;
}

std::string_view mark_word(Mark mark) {
  switch (mark) {
    case Mark::work:
      return "work";
    case Mark::good:
      return "good";
    case Mark::ordinary:
      return "ordinary";
    case Mark::unknown:
      break;
  }
  return "unknown";
}

std::string_view unknown_word(Unknown why) {
  switch (why) {
    case Unknown::never_timed:
      return "never-timed";
    case Unknown::few_runs:
      return "few-runs";
    case Unknown::no_age:
      return "no-age";
    case Unknown::few_children:
      return "few-children";
    case Unknown::one_time:
      return "one-time";
    case Unknown::clock:
      return "clock";
    case Unknown::two_dates:
      return "two-dates";
    case Unknown::none:
      break;
  }
  return {};
}

}  // namespace bagsplit::jobs
