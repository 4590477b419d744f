#include "bagsplit/gates/detail/gate_chains.hpp"

#include <algorithm>
#include <cmath>
#include <map>
#include <numeric>
#include <tuple>

#include "bagsplit/stats/quantile.hpp"

namespace bagsplit::gates::detail {

namespace {

constexpr double log_two_pi = 1.8378770664093453;
constexpr double mad_to_sd = 1.4826;

double log_add(double a, double b) {
  const double most = std::max(a, b);
  return most + std::log(std::exp(a - most) + std::exp(b - most));
}

double spread_about(const std::vector<double>& values, double middle) {
  std::vector<double> away;
  for (const double value : values) {
    away.push_back(std::fabs(value - middle));
  }
  return mad_to_sd * stats::median(away).value_or(0.0);
}

// A run as far as it goes.
struct Going {
  std::vector<Chain::Step> steps;
  double z = 0.0, z2 = 0.0, log_t = 0.0;  // sums over its stretches of log(time / median), its square, log time
  bool open = true;
};

// One explanation of a group of breaks.
struct World {
  std::vector<Going> runs;
  double weight = 0.0;  // of all runs as they are
};

class ChainFinder {
 public:
  ChainFinder(std::span<const Break> breaks, std::span<const double> common_s, std::size_t starts,
              const ChainRules& rules)
      : breaks_(breaks), rules_(rules), places_(common_s.size() + 1), used_(breaks.size(), false) {
    learn(common_s);
    double span_s = 0.0;
    for (std::size_t from = 0; from < breaks.size();) {
      std::size_t to = from;
      while (to + 1 < breaks.size() && breaks[to + 1].clock == breaks[from].clock) {
        ++to;
      }
      span_s += breaks[to].t_s - breaks[from].t_s;
      from = to + 1;
    }
    const double rate = static_cast<double>(std::max<std::size_t>(1, starts)) / std::max(60.0, span_s);
    log_start_ = std::log(rate);
    log_stray_ = std::log(rules.stray_per_start * rate / static_cast<double>(places_));
    log_miss_ = std::log(rules.miss);
    log_seen_ = std::log(1.0 - rules.miss);
  }

  Chains find() {
    for (const std::vector<std::size_t>& group : groups()) {
      explain(group);
    }
    std::sort(out_.runs.begin(), out_.runs.end(), [&](const Chain& a, const Chain& b) {
      return std::tuple(a.clock, a.start_s, a.steps.front().at) < std::tuple(b.clock, b.start_s, b.steps.front().at);
    });
    for (std::size_t k = 0; k < breaks_.size(); ++k) {
      if (!used_[k]) {
        out_.strays.push_back(k);
      }
    }
    find_hints();
    return std::move(out_);
  }

 private:
  double usual_s(std::size_t from, std::size_t to) const { return until_[to] - until_[from]; }
  double t(const Chain::Step& step) const { return breaks_[step.at].t_s; }

  std::vector<double> times_at(std::size_t place, std::size_t clock) const {
    std::vector<double> out;
    for (const Break& one : breaks_) {
      if (one.clock == clock && std::count(one.places.begin(), one.places.end(), place) > 0) {
        out.push_back(one.t_s);
      }
    }
    return out;
  }

  // Medians of stretches that only one pair of breaks can be.
  void learn(std::span<const double> common_s) {
    const std::size_t clocks = breaks_.empty() ? 0 : breaks_.back().clock + 1;
    double sd = 0.0;
    until_.push_back(0.0);
    for (std::size_t place = 1; place < places_; ++place) {
      const double common = common_s[place - 1];
      std::vector<double> alone;
      for (std::size_t clock = 0; clock < clocks; ++clock) {
        const std::vector<double> theirs = times_at(place, clock);
        for (const double from : times_at(place - 1, clock)) {
          const auto low = std::upper_bound(theirs.begin(), theirs.end(), from + 0.55 * common);
          const auto high = std::lower_bound(low, theirs.end(), from + 1.9 * common);
          if (high - low == 1) {
            alone.push_back(*low - from);
          }
        }
      }
      const double middle = alone.size() > 4 ? *stats::median(alone) : common;
      if (alone.size() > 9) {
        for (double& time_s : alone) {
          time_s = std::log(time_s / middle);
        }
        sd = std::max(sd, spread_about(alone, 0.0));
      }
      out_.usual_s.push_back(middle);
      until_.push_back(until_.back() + middle);
    }
    out_.sd_run = std::max(rules_.sd_run, sd);
  }

  bool can_follow(const Chain::Step& from, std::size_t to_place, double to_s) const {
    const double usual = usual_s(from.place, to_place);
    const double taken = to_s - t(from);
    return to_place > from.place && taken > usual / rules_.fastest && taken < rules_.slowest * usual;
  }

  Going gone_on(const Going& run, Chain::Step step) const {
    Going out = run;
    if (!run.steps.empty()) {
      const double taken = t(step) - t(run.steps.back());
      const double z = std::log(taken / usual_s(run.steps.back().place, step.place));
      out.z += z;
      out.z2 += z * z;
      out.log_t += std::log(taken);
    }
    out.steps.push_back(step);
    return out;
  }

  // log density of k log times with a level in common.
  static double log_normal(const Going& run, double k, double level_sd, double own_sd) {
    const double own = own_sd * own_sd;
    const double all = own + k * level_sd * level_sd;
    return -0.5 * (k * log_two_pi + (k - 1.0) * std::log(own) + std::log(all) +
                   (run.z2 - level_sd * level_sd * run.z * run.z / all) / own);
  }

  // Log weight against all its breaks being nobody's; of a run still open, missed beams ahead are not counted.
  double weight(const Going& run) const {
    const auto seen = static_cast<double>(run.steps.size());
    const auto passed = static_cast<double>(run.open ? run.steps.back().place + 1 : places_);
    double out = log_start_ + log_seen_ * seen + log_miss_ * (passed - seen) - log_stray_ * seen;
    if (run.steps.size() > 1) {
      const double k = seen - 1.0;
      out += log_add(std::log(1.0 - rules_.wide) + log_normal(run, k, out_.sd_run, rules_.sd_own),
                     std::log(rules_.wide) +
                         log_normal(run, k, std::max(rules_.fall_sd, 2.0 * out_.sd_run), 3.0 * rules_.sd_own)) -
             run.log_t;
    }
    return out;
  }

  // Breaks that can be one run's, together.
  std::vector<std::vector<std::size_t>> groups() {
    root_.resize(breaks_.size());
    std::iota(root_.begin(), root_.end(), std::size_t{0});
    for (std::size_t k = 0; k < breaks_.size(); ++k) {
      for (const std::size_t place : breaks_[k].places) {
        if (places_ <= rules_.most_places) {
          join_chains(gone_on({}, {place, k}));
        } else {
          join_next({place, k});
        }
      }
    }
    std::map<std::size_t, std::vector<std::size_t>> by_root;
    for (std::size_t k = 0; k < breaks_.size(); ++k) {
      by_root[find_root(k)].push_back(k);
    }
    std::vector<std::vector<std::size_t>> out;
    for (auto& [root, group] : by_root) {
      if (group.size() > 1) {
        out.push_back(std::move(group));
      }
    }
    return out;
  }

  std::size_t find_root(std::size_t k) {
    while (root_[k] != k) {
      root_[k] = root_[root_[k]];
      k = root_[k];
    }
    return k;
  }

  template <typename Visit>
  void each_next(const Chain::Step& from, std::size_t places_on, const Visit& visit) const {
    const double far_s = rules_.slowest * usual_s(from.place, places_ - 1);
    for (std::size_t k = from.at + 1;
         k < breaks_.size() && breaks_[k].clock == breaks_[from.at].clock && breaks_[k].t_s - t(from) <= far_s; ++k) {
      for (const std::size_t place : breaks_[k].places) {
        if (place <= from.place + places_on && can_follow(from, place, breaks_[k].t_s)) {
          visit(Chain::Step{place, k});
        }
      }
    }
  }

  void join_chains(const Going& run) {
    if (run.steps.size() > 1) {
      Going whole = run;
      whole.open = false;
      if (weight(whole) > rules_.least_weight) {
        for (const Chain::Step& step : run.steps) {
          root_[find_root(step.at)] = find_root(run.steps.front().at);
        }
      }
    }
    each_next(run.steps.back(), places_, [&](const Chain::Step& step) { join_chains(gone_on(run, step)); });
  }

  void join_next(const Chain::Step& from) {
    each_next(from, 2, [&](const Chain::Step& step) { root_[find_root(step.at)] = find_root(from.at); });
  }

  // All choices of disjoint chains, one break after another.
  void explain(const std::vector<std::size_t>& group) {
    std::vector<World> worlds(1);
    for (const std::size_t at : group) {
      std::vector<World> next;
      for (World& world : worlds) {
        if (!close(world, breaks_[at].t_s, breaks_[at].clock)) {
          continue;
        }
        for (const std::size_t place : breaks_[at].places) {
          take(world, {place, at}, next);
        }
        next.push_back(std::move(world));  // the break is nobody's
      }
      keep_best(next);
      worlds = std::move(next);
    }
    std::erase_if(worlds, [&](World& world) { return !close(world, std::nullopt, 0); });
    settle(worlds);
  }

  void take(const World& world, const Chain::Step& step, std::vector<World>& next) const {
    for (std::size_t r = 0; r < world.runs.size(); ++r) {
      if (world.runs[r].open && can_follow(world.runs[r].steps.back(), step.place, t(step))) {
        World& other = next.emplace_back(world);
        other.weight -= weight(other.runs[r]);
        other.runs[r] = gone_on(other.runs[r], step);
        other.weight += weight(other.runs[r]);
      }
    }
    if (step.place + 1 < places_) {
      World& other = next.emplace_back(world);
      other.runs.push_back(gone_on({}, step));
      other.weight += weight(other.runs.back());
    }
  }

  // Ends runs that nothing can follow any more (all, without a time).  @return false where one of them is none.
  bool close(World& world, std::optional<double> now_s, std::size_t clock) const {
    for (Going& run : world.runs) {
      const Chain::Step last = run.open ? run.steps.back() : Chain::Step{};
      if (!run.open || (now_s && breaks_[last.at].clock == clock &&
                        *now_s - t(last) <= rules_.slowest * usual_s(last.place, places_ - 1))) {
        continue;
      }
      world.weight -= weight(run);
      run.open = false;
      const double whole = weight(run);
      if (run.steps.size() < 2 || whole <= rules_.least_weight) {
        return false;
      }
      world.weight += whole;
    }
    return true;
  }

  void keep_best(std::vector<World>& worlds) const {
    double best = worlds.front().weight;
    for (const World& world : worlds) {
      best = std::max(best, world.weight);
    }
    std::erase_if(worlds, [&](const World& world) { return world.weight < best - rules_.worlds_apart; });
    if (worlds.size() > rules_.most_worlds) {
      std::stable_sort(worlds.begin(), worlds.end(),
                       [](const World& a, const World& b) { return a.weight > b.weight; });
      worlds.resize(rules_.most_worlds);
    }
  }

  void settle(const std::vector<World>& worlds) {
    if (worlds.empty()) {
      return;
    }
    const World* best = &worlds.front();
    for (const World& world : worlds) {
      best = world.weight > best->weight ? &world : best;
    }
    double total = 0.0;
    double as_many = 0.0;
    for (const World& world : worlds) {
      const double share = std::exp(world.weight - best->weight);
      total += share;
      as_many += world.runs.size() == best->runs.size() ? share : 0.0;
    }
    for (const Going& run : best->runs) {
      Chain chain;
      chain.steps = run.steps;
      chain.exists = as_many / total;
      chain.chance.assign(places_, 0.0);
      const Chain::Step& first = run.steps.front();
      for (const Chain::Step& step : run.steps) {
        used_[step.at] = true;
        if (first.place != 0 || step.place == 0) {
          continue;
        }
        for (const World& world : worlds) {
          const bool together = std::any_of(world.runs.begin(), world.runs.end(), [&](const Going& other) {
            return std::count(other.steps.begin(), other.steps.end(), first) > 0 &&
                   std::count(other.steps.begin(), other.steps.end(), step) > 0;
          });
          chain.chance[step.place] += together ? std::exp(world.weight - best->weight) / total : 0.0;
        }
      }
      chain.clock = breaks_[first.at].clock;
      chain.start_s = t(first) - until_[first.place];
      const Chain::Step& last = run.steps.back();
      chain.level = std::log((t(last) - t(first)) / usual_s(first.place, last.place));
      chain.level_variance =
          rules_.within * rules_.within * (first.place == 0 && last.place + 1 == places_ ? 1.0 : 2.5);
      out_.runs.push_back(std::move(chain));
    }
  }

  // A break of nobody that parts a long interval between starts into two usual ones may be a run that one beam saw.
  void find_hints() {
    std::vector<double> log_gaps;
    for (std::size_t k = 1; out_.runs.size() > 2 && k < out_.runs.size(); ++k) {
      if (const double gap = out_.runs[k].start_s - out_.runs[k - 1].start_s; gap > 1.0) {
        log_gaps.push_back(std::log(gap));
      }
    }
    if (log_gaps.empty()) {
      log_gaps.push_back(std::log(20.0));
    }
    const double middle = *stats::median(log_gaps);
    const double sd = std::max(0.15, spread_about(log_gaps, middle));
    const auto density = [&](double gap_s) {
      if (gap_s <= 0.0) {
        return 1e-9;
      }
      const auto normal = [](double d, double s) { return std::exp(-0.5 * (log_two_pi + d * d / (s * s))) / s; };
      const double y = std::log(gap_s);
      return ((1.0 - rules_.pause) * normal(y - middle, sd) + rules_.pause * normal(y - middle - 0.7, 0.8)) / gap_s;
    };
    const double one_beam = std::pow(rules_.miss, static_cast<double>(places_ - 1)) /
                            (rules_.stray_per_start / static_cast<double>(places_));
    const double rate = std::exp(log_start_);
    for (const std::size_t at : out_.strays) {
      const Break& one = breaks_[at];
      const double start_s = one.t_s - until_[one.places.front()];
      const auto after = std::find_if(out_.runs.begin(), out_.runs.end(), [&](const Chain& run) {
        return std::pair(run.clock, run.start_s) > std::pair(one.clock, start_s);
      });
      std::optional<double> before_s;
      std::optional<double> after_s;
      if (after != out_.runs.begin() && std::prev(after)->clock == one.clock) {
        before_s = start_s - std::prev(after)->start_s;
      }
      if (after != out_.runs.end() && after->clock == one.clock) {
        after_s = after->start_s - start_s;
      }
      const double ratio = before_s && after_s
                               ? density(*before_s) * density(*after_s) / (density(*before_s + *after_s) * rate)
                               : (before_s  ? density(*before_s)
                                  : after_s ? density(*after_s)
                                            : rate) /
                                     rate;
      out_.hints.emplace_back(static_cast<std::size_t>(after - out_.runs.begin()), std::min(1.0, one_beam * ratio));
    }
  }

  std::span<const Break> breaks_;
  const ChainRules& rules_;
  std::size_t places_;
  std::vector<double> until_;  // by place: usual time from the start
  double log_start_ = 0.0, log_stray_ = 0.0, log_miss_ = 0.0, log_seen_ = 0.0;
  std::vector<std::size_t> root_;
  std::vector<bool> used_;
  Chains out_;
};

}  // namespace

Chains chains_of(std::span<const Break> breaks, std::span<const double> common_s, std::size_t starts,
                 const ChainRules& rules) {
  return ChainFinder(breaks, common_s, starts, rules).find();
}

}  // namespace bagsplit::gates::detail
