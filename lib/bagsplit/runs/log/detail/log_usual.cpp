#include "bagsplit/runs/log/detail/log_usual.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <unordered_map>
#include <utility>

#include "bagsplit/text/first_seen.hpp"
#include "bagsplit/text/memory_hints.hpp"

namespace bagsplit::runs::detail {

namespace {

constexpr double odd_for_player = 2.0;
constexpr double odd_for_squad = 3.0;
constexpr std::size_t fewest_of_player = 3;
constexpr std::size_t fewest_players = 4;
// A swap is told only where both players are well known and differ by more than runs of one player do.
constexpr std::size_t fewest_for_swap = 4;
constexpr double least_shift = 0.06;
constexpr double least_scale = 0.015;
constexpr std::size_t most_shifts = 100'000;  // enough to know how much runs of one player differ
constexpr std::uint32_t swap_reach = 3;       // rows apart: a second watch may stand between

// What is compared with what: the layout and the mark, and how the run was started and timed.
struct Kind {
  std::uint64_t where = 0;
  std::uint64_t how = 0;

  bool operator==(const Kind&) const = default;
};

struct KindHash {
  std::size_t operator()(const Kind& kind) const {
    return static_cast<std::size_t>(text::detail::hash_on(text::detail::hash_on(0, kind.where), kind.how));
  }
};

std::uint64_t how_of(const Setting& setting, bool laps) {
  return (static_cast<std::uint64_t>(setting.start) << 5U) | (static_cast<std::uint64_t>(setting.posture) << 1U) |
         (laps ? 1U : 0U);
}

// Times of one kind: those of the player at hand, and the medians of all players.
struct Group {
  Kind kind;
  std::uint64_t order = 0;        // among groups
  std::vector<double> times_s;    // of the player; in any order
  double usual_s = 0.0;           // their median
  bool calm = false;              // none of them is far from it
  std::vector<double> medians_s;  // of each player
};

double median(std::vector<double>& values) {
  const std::size_t middle = values.size() / 2;
  std::nth_element(values.begin(), values.begin() + static_cast<std::ptrdiff_t>(middle), values.end());
  return values[middle];
}

// The mean of the two in the middle where their number is even.
double fair_median(std::vector<double>& values) {
  const double upper = median(values);
  if (values.size() % 2 == 1) {
    return upper;
  }
  return 0.5 *
         (*std::max_element(values.begin(), values.begin() + static_cast<std::ptrdiff_t>(values.size() / 2)) + upper);
}

bool takes_part(const RawRow& row) {
  return row.flag == Flag::none && (row.leg < 2 || row.laps);
}

struct Time {
  std::uint32_t group;
  std::uint32_t row;
  std::uint32_t split;
  bool is_last;  // of its row
  double time_s;
};

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
    for (std::size_t player = 0; player < players.size(); ++player) {
      look_at_player(players.rows_of(player));
    }
    compare_with_squad();
    find_swapped();
    std::sort(out_.odd.begin(), out_.odd.end(),
              [](const OddTime& a, const OddTime& b) { return std::pair(a.row, a.split) < std::pair(b.row, b.split); });
    return std::move(out_);
  }

 private:
  void look_at_player(std::span<const std::uint32_t> rows) {
    for (const std::uint32_t group : used_) {
      groups_[group].times_s.clear();
    }
    used_.clear();
    last_times_.clear();
    for (std::size_t k = 0; k < rows.size(); ++k) {
      hint_rows_ahead(rows, k);
      for_each_time(rows[k], [&](const Time& time) {
        Group& group = groups_[time.group];
        if (group.times_s.empty()) {
          used_.push_back(time.group);
        }
        group.times_s.push_back(time.time_s);
        if (time.is_last) {
          last_times_.push_back(time);
        }
      });
    }
    std::sort(used_.begin(), used_.end(), [&](auto a, auto b) { return groups_[a].order < groups_[b].order; });
    bool calm = true;
    for (const std::uint32_t group : used_) {
      find_usual(groups_[group]);
      calm = calm && groups_[group].calm;
    }
    if (calm) {  // only the last times can say something: that a row strays
      std::for_each(last_times_.begin(), last_times_.end(), [&](const Time& time) { compare(time); });
      return;
    }
    for (const std::uint32_t number : rows) {
      for_each_time(number, [&](const Time& time) { compare(time); });
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

  // Calls `use` with each time of a row that is compared with others.
  template <typename Use>
  void for_each_time(std::uint32_t number, const Use& use) {
    const RawRow& row = log_.rows[number];
    if (!takes_part(row)) {
      return;
    }
    const Setting& setting = log_.setting_of(row);
    const std::uint64_t layout = std::uint64_t{setting.layout} << 32U;
    const std::uint64_t how = how_of(setting, row.laps);
    for (std::uint32_t k = 0; k < row.split_count; ++k) {
      const std::uint32_t split = row.first_split + k;
      if (!log_.splits[split].is_move) {
        use(Time{group_of({layout | log_.splits[split].mark, how}, k), number, split, k + 1U == row.split_count,
                 own_time_s(log_, row, split)});
      }
    }
  }

  // Most rows have what the row before had at the same place: `k` counts the splits of a row.
  std::uint32_t group_of(const Kind& kind, std::size_t k) {
    if (k < last_groups_.size()) [[likely]] {
      const std::uint32_t last = last_groups_[k];
      if (groups_[last].kind == kind) [[likely]] {
        return last;
      }
    }
    return look_up_group(kind, k);
  }

  std::uint32_t look_up_group(const Kind& kind, std::size_t k) {
    const auto [at, is_new] = group_by_kind_.try_emplace(kind, static_cast<std::uint32_t>(groups_.size()));
    if (is_new) {
      groups_.push_back({kind, order_of(kind), {}, 0.0, false, {}});
    }
    if (k >= last_groups_.size()) {
      last_groups_.resize(k + 1, at->second);
    }
    last_groups_[k] = at->second;
    return at->second;
  }

  // By layout, then as the marks were first read.
  std::uint64_t order_of(const Kind& kind) const {
    const auto name = static_cast<NameId>(kind.where);
    const auto mark =
        std::find_if(log_.marks.begin(), log_.marks.end(), [&](const MarkInfo& m) { return m.name == name; });
    return (kind.where & ~std::uint64_t{no_name}) | (static_cast<std::uint64_t>(mark - log_.marks.begin()) << 8U) |
           kind.how;
  }

  void find_usual(Group& group) {
    std::vector<double>& times_s = group.times_s;
    const auto [least, most] = std::minmax_element(times_s.begin(), times_s.end());
    // The median lies between them.
    group.calm = times_s.size() >= fewest_of_player && *most < odd_for_player * *least;
    group.usual_s = fair_median(times_s);
    group.medians_s.push_back(group.usual_s);
    if (times_s.size() < fewest_for_swap || group.usual_s <= 0.0 || shifts_.size() == most_shifts) {
      return;
    }
    if (times_s.size() > most_shifts - shifts_.size()) {
      std::sort(times_s.begin(), times_s.end());
    }
    for (std::size_t k = 0; k < times_s.size() && shifts_.size() < most_shifts; ++k) {
      shifts_.push_back(std::fabs(times_s[k] / group.usual_s - 1.0));
    }
  }

  void compare(const Time& time) {
    const Group& group = groups_[time.group];
    const double usual_s = group.usual_s;
    if (group.times_s.size() < fewest_of_player) {
      thin_.push_back(time);
      return;
    }
    if (time.time_s * odd_for_player <= usual_s || time.time_s >= odd_for_player * usual_s) {
      out_.odd.push_back({time.row, time.split, usual_s, true});
    }
    if (time.is_last && group.times_s.size() >= fewest_for_swap && usual_s > 0.0 &&
        std::fabs(time.time_s / usual_s - 1.0) > least_shift) {
      strays_.push_back({time.row, time.group, time.time_s, usual_s});
    }
  }

  void compare_with_squad() {
    std::vector<double> usual_s(groups_.size(), std::numeric_limits<double>::quiet_NaN());
    for (const Time& thin : thin_) {
      Group& group = groups_[thin.group];
      if (group.medians_s.size() < fewest_players) {
        continue;
      }
      double& usual = usual_s[thin.group];
      if (std::isnan(usual)) {
        usual = median(group.medians_s);
      }
      if (thin.time_s * odd_for_squad <= usual || thin.time_s >= odd_for_squad * usual) {
        out_.odd.push_back({thin.row, thin.split, usual, false});
      }
    }
  }

  void find_swapped() {
    if (strays_.size() < 2) {
      return;
    }
    const double scale = std::max(least_scale, 1.4826 * median(shifts_));
    std::sort(strays_.begin(), strays_.end(), [](const Stray& a, const Stray& b) { return a.row < b.row; });
    for (std::size_t i = 0; i < strays_.size(); ++i) {
      for (std::size_t j = i + 1; j < strays_.size() && strays_[j].row <= strays_[i].row + swap_reach; ++j) {
        const RawRow& a = log_.rows[strays_[i].row];
        const RawRow& b = log_.rows[strays_[j].row];
        if (a.player != b.player && log_.setting_of(a).file == log_.setting_of(b).file && a.date == b.date &&
            strays_[i].group == strays_[j].group && strayed(strays_[i], scale) && strayed(strays_[j], scale) &&
            fits(strays_[i], strays_[j].usual_s, scale) && fits(strays_[j], strays_[i].usual_s, scale)) {
          out_.swapped.emplace_back(strays_[i].row, strays_[j].row);
        }
      }
    }
  }

  static bool strayed(const Stray& s, double scale) { return std::fabs(s.time_s / s.usual_s - 1.0) > 4.0 * scale; }
  static bool fits(const Stray& s, double usual_s, double scale) {
    return std::fabs(s.time_s / usual_s - 1.0) < 2.0 * scale;
  }

  const RawLog& log_;
  UsualTimes out_;
  std::vector<Group> groups_;
  std::unordered_map<Kind, std::uint32_t, KindHash> group_by_kind_;
  std::vector<std::uint32_t> last_groups_;  // of the splits of the row before
  std::vector<std::uint32_t> used_;         // groups that the player at hand has times in
  std::vector<Time> last_times_;            // of the player's rows
  std::vector<Time> thin_;                  // of players who have few of their kind
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
