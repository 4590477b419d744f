#include "bagsplit/runs/log/detail/log_usual.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <span>
#include <unordered_map>
#include <utility>

#include "bagsplit/stats/distributions.hpp"
#include "bagsplit/text/first_seen.hpp"
#include "bagsplit/text/memory_hints.hpp"

namespace bagsplit::runs::detail {

namespace {

// Chance that a value of a clean sheet is called odd; a time takes part in two or three values. With it about one clean
// time in a thousand is asked about (tests/runs/usual_times_test.cpp).
constexpr double false_alarm = 1e-3;
constexpr std::size_t fewest_players = 5;  // with the one at hand
constexpr std::size_t window = 4;          // runs of the player before and after: children grow over a season
constexpr double least_off_s = 0.15;       // no watch is worth asking about less

// What is usual before the sheet tells, and what it is worth in values. Presses as in SuspicionLimits::press_error_s;
// effort from run to run 2-4 %, children of a squad 8-12 % apart: common practice, no source.
constexpr double own_worth = 9.0;
constexpr double squad_worth = 6.0;
constexpr double effort_sd = 0.03;
constexpr double press_sd_s = 0.1;
constexpr double share_press_sd_s = 0.085;
constexpr double bag_sd_s = 0.06;  // a turn that goes better or worse
constexpr double squad_sd = 0.1;
constexpr double squad_share_sd = 0.025;
constexpr double worth_of_mad = 0.37;  // of a normal sample's size: the efficiency of the median absolute deviation
constexpr double mad_to_sd = 1.4826;
constexpr double median_variance = 1.57;  // times the variance of a mean
constexpr double few_steps = 2.0;         // counted as worth_of_mad has it
constexpr std::size_t most_steps = 4000;  // enough to know how much runs of one player differ

// A swap is told only where both players are well known and differ by more than runs of one player do.
constexpr std::size_t fewest_for_swap = 4;
constexpr double least_shift = 0.06;
constexpr double least_scale = 0.015;
constexpr std::size_t most_shifts = 100'000;
constexpr std::uint32_t swap_reach = 3;  // rows apart: a second watch may stand between

enum class What : std::uint8_t {
  time,     // from the start
  stretch,  // from the mark before
  share,    // of the way in time from the mark before to the one after
};

// What is compared with what: the layout and the mark, its neighbours, and how the run was started and timed.
struct Kind {
  std::uint64_t where = 0;
  std::uint64_t around = 0;
  std::uint64_t how = 0;

  bool operator==(const Kind&) const = default;
};

struct KindHash {
  std::size_t operator()(const Kind& kind) const {
    using text::detail::hash_on;
    return static_cast<std::size_t>(hash_on(hash_on(hash_on(0, kind.where), kind.around), kind.how));
  }
};

std::uint64_t how_of(const Setting& setting, bool laps) {
  return (static_cast<std::uint64_t>(setting.start) << 5U) | (static_cast<std::uint64_t>(setting.posture) << 1U) |
         (laps ? 1U : 0U);
}

// Some times of a player as one.
struct Usual {
  std::uint32_t player = 0;  // place in PlayerRows
  std::uint32_t count = 0;
  double median = 0.0, least = 0.0, most = 0.0;
};

struct Value {
  std::uint32_t row = 0;
  double value = 0.0;
};

// Values of one kind: those of the player at hand, and what all players' come to.
struct Group {
  What what = What::time;
  std::vector<Value> values;  // of the player, in the order of the rows
  std::vector<Usual> usual;   // of each player with any
  std::vector<float> steps;   // between runs of a player in turn, over their mean where not shares
  double over_s = 0.0;        // sum of what a share is of
  std::size_t overs = 0;

  // Relative to `middle`, but for shares.
  double middle = 0.0;  // of the squad
  double own_sd = 0.0, squad_sd = 0.0;
  double own_limit = 0.0, squad_limit = 0.0;  // in SDs

  double scale(double about) const { return what == What::share ? 1.0 : about; }
  bool has_squad() const { return usual.size() >= fewest_players; }
};

// A value of one row.
struct Look {
  std::uint32_t group = 0;
  What what = What::time;
  std::uint32_t mark = 0;  // of the row, `move` left out
  double value = 0.0;
  double over_s = 0.0;  // of a share: from the mark before to the one after
};

template <typename Number>
double median(std::vector<Number>& values) {
  const std::size_t middle = values.size() / 2;
  std::nth_element(values.begin(), values.begin() + static_cast<std::ptrdiff_t>(middle), values.end());
  const auto upper = static_cast<double>(values[middle]);
  if (values.size() % 2 == 1) {
    return upper;
  }
  return 0.5 * (upper + static_cast<double>(
                            *std::max_element(values.begin(), values.begin() + static_cast<std::ptrdiff_t>(middle))));
}

bool takes_part(const RawRow& row) {
  return row.flag == Flag::none && (row.leg < 2 || row.laps);
}

// Two watches on one run say nothing of how runs differ.
bool same_run(const RawRow& a, const RawRow& b) {
  return a.date == b.date && a.trial == b.trial && a.trial != 0 && a.timer != b.timer;
}

double square(double x) {
  return x * x;
}

// A row that strays from its player's usual time at its last mark.
struct Stray {
  std::uint32_t row;
  std::uint32_t group;
  double time_s;
  double usual_s;
};

class Finder {
 public:
  explicit Finder(const RawLog& log) : log_(log) {}

  UsualTimes find(const PlayerRows& players) {
    for (std::uint32_t player = 0; player < players.size(); ++player) {
      look_at_player(player, players.rows_of(player));
    }
    for (Group& group : groups_) {
      measure(group);
    }
    find_swapped();
    std::vector<bool> restless(players.size(), false);
    for (const Group& group : groups_) {
      for (const Usual& usual : group.usual) {
        restless[usual.player] = restless[usual.player] || !is_calm(group, usual);
      }
    }
    for (std::uint32_t player = 0; player < players.size(); ++player) {
      if (restless[player]) {
        gather(players.rows_of(player));
        for (const std::uint32_t row : players.rows_of(player)) {
          examine(row);
        }
      }
    }
    std::erase_if(out_.odd, [&](const OddTime& odd) { return is_swapped(odd.row); });
    std::sort(out_.odd.begin(), out_.odd.end(), [](const OddTime& a, const OddTime& b) { return a.row < b.row; });
    return std::move(out_);
  }

 private:
  // The values of a player's rows, by kind.
  void gather(std::span<const std::uint32_t> rows) {
    for (const std::uint32_t group : used_) {
      groups_[group].values.clear();
    }
    used_.clear();
    for (std::size_t k = 0; k < rows.size(); ++k) {
      hint_rows_ahead(rows, k);
      for_each_look(rows[k], [&](const Look& look) {
        Group& group = groups_[look.group];
        if (group.values.empty()) {
          used_.push_back(look.group);
        }
        group.values.push_back({rows[k], look.value});
        group.over_s += look.over_s;
        ++group.overs;
      });
    }
  }

  void look_at_player(std::uint32_t player, std::span<const std::uint32_t> rows) {
    gather(rows);
    for (const std::uint32_t number : used_) {
      Group& group = groups_[number];
      sorted_.clear();
      Usual usual{player, static_cast<std::uint32_t>(group.values.size()), 0.0, group.values.front().value,
                  group.values.front().value};
      for (std::size_t k = 0; k < group.values.size(); ++k) {
        const double value = group.values[k].value;
        sorted_.push_back(value);
        usual.least = std::min(usual.least, value);
        usual.most = std::max(usual.most, value);
        if (k > 0 && group.steps.size() < most_steps &&
            !same_run(log_.rows[group.values[k - 1].row], log_.rows[group.values[k].row])) {
          const double before = group.values[k - 1].value;
          group.steps.push_back(
              static_cast<float>(std::fabs(value - before) / group.scale(0.5 * std::fabs(value + before))));
        }
      }
      usual.median = median(sorted_);
      group.usual.push_back(usual);
      if (group.what == What::time && group.values.size() >= fewest_for_swap) {
        note_strays(number, usual.median);
      }
    }
  }

  void note_strays(std::uint32_t number, double usual_s) {
    for (const Value& value : groups_[number].values) {
      const double shift = std::fabs(value.value / usual_s - 1.0);
      if (shifts_.size() < most_shifts) {
        shifts_.push_back(shift);
      }
      if (shift > least_shift) {
        strays_.push_back({value.row, number, value.value, usual_s});
      }
    }
  }

  // Where players take turns, each row of one lies far from the one before.
  void hint_rows_ahead(std::span<const std::uint32_t> rows, std::size_t k) const {
    constexpr std::size_t ahead = 8;
    if (k + 2 * ahead < rows.size()) {
      text::detail::hint_soon(log_.rows[rows[k + 2 * ahead]]);
      const RawRow& row = log_.rows[rows[k + ahead]];
      if (row.split_count > 0) {
        text::detail::hint_soon(log_.splits[row.first_split]);
        text::detail::hint_soon(log_.splits[row.first_split + row.split_count - 1]);
      }
    }
  }

  // Calls `use` with each value of a row that is compared with others. A value that is no more than 0 is told
  // elsewhere.
  template <typename Use>
  void for_each_look(std::uint32_t number, const Use& use) {
    const RawRow& row = log_.rows[number];
    if (!takes_part(row) || row.split_count == 0) {
      return;
    }
    const Setting& setting = log_.setting_of(row);
    const std::uint64_t layout = std::uint64_t{setting.layout} << 32U;
    const std::uint64_t how = how_of(setting, row.laps) << 8U;
    const std::uint32_t moves = log_.splits[row.first_split].is_move ? 1U : 0U;
    const Split* const splits = log_.splits.data() + row.first_split + moves;
    const std::uint32_t marks = row.split_count - moves;
    std::size_t slot = 0;
    const auto add = [&](What what, std::uint32_t mark, double value, std::uint64_t around, double over_s) {
      if (value > 0.0 && std::isfinite(value)) {
        use(Look{group_of({layout | splits[mark].mark, around, how | static_cast<std::uint64_t>(what)}, slot), what,
                 mark, value, over_s});
      }
      ++slot;
    };
    for (std::uint32_t k = 0; k < marks; ++k) {
      const double before_s = k == 0 ? 0.0 : splits[k - 1].time_s;
      const std::uint64_t before = k == 0 ? std::uint64_t{no_name} : splits[k - 1].mark;
      if (k == 0 || k + 1 == marks) {
        add(What::time, k, splits[k].time_s, no_name, 0.0);
      }
      if (k > 0) {
        add(What::stretch, k, splits[k].time_s - before_s, before, 0.0);
      }
      if (k + 1 < marks) {
        const double over_s = splits[k + 1].time_s - before_s;
        const double share = (splits[k].time_s - before_s) / over_s;
        add(What::share, k, over_s > 0.0 && share < 1.0 ? share : 0.0, (before << 32U) | splits[k + 1].mark, over_s);
      }
    }
  }

  // Most rows have what the row before had at the same place: `k` counts the values of a row.
  std::uint32_t group_of(const Kind& kind, std::size_t k) {
    if (k < last_groups_.size()) [[likely]] {
      const std::uint32_t last = last_groups_[k];
      if (kinds_[last] == kind) [[likely]] {
        return last;
      }
    }
    const auto [at, is_new] = group_by_kind_.try_emplace(kind, static_cast<std::uint32_t>(groups_.size()));
    if (is_new) {
      kinds_.push_back(kind);
      groups_.emplace_back().what = static_cast<What>(kind.how & 0xFFU);
    }
    if (k >= last_groups_.size()) {
      last_groups_.resize(k + 1, at->second);
    }
    last_groups_[k] = at->second;
    return at->second;
  }

  // Middle, SDs and limits from what all players' values say.
  void measure(Group& group) {
    std::vector<double> medians;
    for (const Usual& usual : group.usual) {
      medians.push_back(usual.median);
    }
    group.middle = median(medians);
    for (double& value : medians) {
      value = std::fabs(value - group.middle) / group.scale(group.middle);
    }
    const double over_s = group.over_s / static_cast<double>(std::max<std::size_t>(group.overs, 1));
    const double before = group.what == What::time ? std::hypot(effort_sd, press_sd_s / group.middle)
                          : group.what == What::stretch
                              ? std::hypot(effort_sd, press_sd_s / group.middle, bag_sd_s / group.middle)
                              : std::hypot(share_press_sd_s, 0.7 * bag_sd_s) / over_s;
    const double steps = worth_of_mad * static_cast<double>(group.steps.size());
    double step_sd = group.steps.empty() ? 0.0 : mad_to_sd * median(group.steps) / std::sqrt(2.0);
    if (steps < few_steps) {  // most of them may be of one wrong value
      step_sd = std::min(step_sd, 2.0 * before);
    }
    group.own_sd = std::sqrt((own_worth * square(before) + steps * square(step_sd)) / (own_worth + steps));
    // A player's median of few runs has the runs' own scatter too, which is no harm to a bound.
    const double players = worth_of_mad * static_cast<double>(medians.size());
    group.squad_sd = std::sqrt((squad_worth * square(group.what == What::share ? squad_share_sd : squad_sd) +
                                players * square(mad_to_sd * median(medians))) /
                               (squad_worth + players));
    group.own_limit = limit_of(own_worth + steps);
    group.squad_limit = limit_of(squad_worth + players);
  }

  double limit_of(double values) {
    const auto key = static_cast<std::size_t>(std::min(values, 1000.0) * 4.0);
    if (limits_.size() <= key) {
      limits_.resize(key + 1, 0.0);
    }
    double& limit = limits_[key];
    if (limit == 0.0) {
      limit = -stats::student_t_quantile(0.5 * false_alarm, static_cast<double>(key) / 4.0);
    }
    return limit;
  }

  // Whether none of a player's values can be odd; may say no to calm ones.
  static bool is_calm(const Group& group, const Usual& usual) {
    const double off = group.has_squad() ? std::fabs(usual.median - group.middle) : 0.0;
    const double spread = group.squad_sd * group.scale(group.middle);
    if (usual.count == 1) {
      return off <= group.squad_limit * spread;
    }
    return usual.most - usual.least <= 0.8 * group.own_limit * group.own_sd * group.scale(usual.median) &&
           off <= 3.0 * spread;
  }

  struct Odd {
    double z = 0.0;   // over its limit: odd beyond 1
    double sd = 0.0;  // of the value, times the limit
    bool of_player = false;
  };

  // How far a value is from what the player's other runs near it and the squad lead to expect.
  Odd oddness(const Group& group, std::uint32_t row, double value) {
    const auto at = std::lower_bound(group.values.begin(), group.values.end(), row,
                                     [](const Value& v, std::uint32_t r) { return v.row < r; });
    const auto place = static_cast<std::size_t>(at - group.values.begin());
    sorted_.clear();
    for (std::size_t k = place - std::min(place, window); k < std::min(place + window + 1, group.values.size()); ++k) {
      if (k != place && !same_run(log_.rows[group.values[k].row], log_.rows[row])) {
        sorted_.push_back(group.values[k].value);
      }
    }
    const std::size_t n = sorted_.size();
    if (n == 0) {
      const double sd = std::hypot(group.squad_sd, group.own_sd) * group.scale(group.middle) * group.squad_limit;
      return group.has_squad() ? Odd{(value - group.middle) / sd, sd, false} : Odd{};
    }
    std::sort(sorted_.begin(), sorted_.end());
    // Of two in the middle the nearer end, where one of a few others may be the odd one.
    const double own = n % 2 == 1 ? sorted_[n / 2] : std::clamp(value, sorted_[n / 2 - 1], sorted_[n / 2]);
    const double variance = square(group.own_sd * group.scale(own));
    double mean = own;
    double mean_variance = variance * (n < 3 ? 1.0 : median_variance) / static_cast<double>(n);
    if (group.has_squad()) {
      const double squad = square(group.squad_sd * group.scale(group.middle));
      mean += mean_variance / (mean_variance + squad) * (group.middle - mean);
      mean_variance *= squad / (mean_variance + squad);
    }
    // Of two that differ the one farther from the squad is doubted; of two that nobody knows better, the later.
    if (n == 1 && (group.has_squad() ? std::fabs(value - group.middle) < std::fabs(own - group.middle) : place == 0)) {
      return {};
    }
    const double sd = std::sqrt(variance + mean_variance) * group.own_limit;
    return {(value - mean) / sd, sd, true};
  }

  // Which time of a row is the likeliest to be wrong, where any of its values is odd: the one that, set right, makes
  // the row's values fit best.
  void examine(std::uint32_t number) {
    const RawRow& row = log_.rows[number];
    looks_.clear();
    bool odd = false;
    bool of_player = false;
    for_each_look(number, [&](const Look& look) { looks_.emplace_back(look, Odd{}); });
    for (auto& [look, found] : looks_) {
      found = oddness(groups_[look.group], number, look.value);
      odd = odd || std::fabs(found.z) > 1.0;
      of_player = of_player || found.of_player;
    }
    if (!odd) {
      return;
    }
    const std::uint32_t first = row.first_split + (log_.splits[row.first_split].is_move ? 1U : 0U);
    const std::uint32_t marks = row.first_split + row.split_count - first;
    OddTime best{number, first, 0.0, 0.0, of_player, false};
    double most = 0.0;
    double off_s = 0.0;
    // Each time alone; last of all, all of them by as much, as when the clock started early or late.
    for (std::uint32_t mark = 0; mark < marks + (marks > 1 && !row.laps ? 1U : 0U); ++mark) {
      const bool all = mark == marks;
      double fit = 0.0;
      double weight = 0.0;
      double steepest = 0.0;
      for (const auto& [look, found] : looks_) {
        if (found.sd > 0.0) {
          const double slope = slope_of(look, all ? 0 : mark, all || row.laps) / found.sd;
          fit += slope * found.z;
          weight += square(slope);
          steepest = std::max(steepest, std::fabs(slope) * groups_[look.group].own_limit);
        }
      }
      if (weight > 0.0 && square(fit) / weight > most) {
        most = square(fit) / weight;
        off_s = fit / weight;
        best.split = first + (all ? 0 : mark);
        best.all = all;
        best.sd_s = 1.0 / steepest;
      }
    }
    best.usual_s = own_time_s(log_, row, best.split) - off_s;
    if (std::fabs(off_s) >= least_off_s && best.usual_s > 0.0) {
      out_.odd.push_back(best);
    }
  }

  // How a value moves with the time typed at a mark.
  static double slope_of(const Look& look, std::uint32_t mark, bool laps) {
    // With the time on the clock at a mark, or in a row of laps at it and all that follow.
    const auto moved = [&](std::uint32_t at) { return laps ? at >= mark : at == mark; };
    const double here = moved(look.mark) ? 1.0 : 0.0;
    const double before = look.mark > 0 && moved(look.mark - 1) ? 1.0 : 0.0;
    switch (look.what) {
      case What::time:
        return here;
      case What::stretch:
        return here - before;
      case What::share:
        return (here - before - look.value * ((moved(look.mark + 1) ? 1.0 : 0.0) - before)) / look.over_s;
    }
    return 0.0;
  }

  void find_swapped() {
    if (strays_.size() < 2) {
      return;
    }
    const double scale = std::max(least_scale, mad_to_sd * median(shifts_));
    std::sort(strays_.begin(), strays_.end(), [](const Stray& a, const Stray& b) { return a.row < b.row; });
    for (std::size_t i = 0; i < strays_.size(); ++i) {
      for (std::size_t j = i + 1; j < strays_.size() && strays_[j].row <= strays_[i].row + swap_reach; ++j) {
        const RawRow& a = log_.rows[strays_[i].row];
        const RawRow& b = log_.rows[strays_[j].row];
        if (a.player != b.player && log_.setting_of(a).file == log_.setting_of(b).file && a.date == b.date &&
            strays_[i].group == strays_[j].group && is_last(strays_[i]) && is_last(strays_[j]) &&
            strayed(strays_[i], scale) && strayed(strays_[j], scale) && fits(strays_[i], strays_[j].usual_s, scale) &&
            fits(strays_[j], strays_[i].usual_s, scale)) {
          out_.swapped.emplace_back(strays_[i].row, strays_[j].row);
        }
      }
    }
  }

  bool is_swapped(std::uint32_t row) const {
    return std::any_of(out_.swapped.begin(), out_.swapped.end(),
                       [&](const auto& pair) { return pair.first == row || pair.second == row; });
  }

  bool is_last(const Stray& stray) const {
    const RawRow& row = log_.rows[stray.row];
    return static_cast<NameId>(kinds_[stray.group].where) == log_.splits[row.first_split + row.split_count - 1U].mark;
  }
  static bool strayed(const Stray& s, double scale) { return std::fabs(s.time_s / s.usual_s - 1.0) > 4.0 * scale; }
  static bool fits(const Stray& s, double usual_s, double scale) {
    return std::fabs(s.time_s / usual_s - 1.0) < 2.0 * scale;
  }

  const RawLog& log_;
  UsualTimes out_;
  std::vector<Kind> kinds_;
  std::vector<Group> groups_;  // of each kind
  std::unordered_map<Kind, std::uint32_t, KindHash> group_by_kind_;
  std::vector<std::uint32_t> last_groups_;  // of the values of the row before
  std::vector<std::uint32_t> used_;         // groups that the player at hand has values in
  std::vector<double> sorted_, limits_;
  std::vector<std::pair<Look, Odd>> looks_;
  std::vector<Stray> strays_;
  std::vector<double> shifts_;
};

}  // namespace

UsualTimes usual_times(const RawLog& log, const PlayerRows& players) {
  return Finder(log).find(players);
}

double own_time_s(const RawLog& log, const RawRow& row, std::uint32_t split) {
  const double clock_s = log.splits[split].time_s;
  return row.laps && split > row.first_split ? clock_s - log.splits[split - 1].time_s : clock_s;
}

PlayerRows rows_by_player(const RawLog& log) {
  std::vector<std::uint32_t> rank(log.names.size(), no_name);  // of each player; players are names
  std::vector<std::uint32_t> next;                             // by rank: where the player's next row goes
  for (const RawRow& row : log.rows) {
    if (!row.bad) {
      if (rank[row.player] == no_name) {
        rank[row.player] = static_cast<std::uint32_t>(next.size());
        next.push_back(0);
      }
      ++next[rank[row.player]];
    }
  }
  std::uint32_t total = 0;
  for (std::uint32_t& start : next) {
    total += std::exchange(start, total);
  }
  PlayerRows out;
  out.rows.resize(total);
  for (std::size_t k = 0; k < log.rows.size(); ++k) {
    if (!log.rows[k].bad) {
      out.rows[next[rank[log.rows[k].player]]++] = static_cast<std::uint32_t>(k);
    }
  }
  out.ends = std::move(next);  // each has come to where the next player begins
  return out;
}

}  // namespace bagsplit::runs::detail
