#include "bagsplit/runs/log_usual.hpp"

#include <algorithm>
#include <cmath>
#include <utility>

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
constexpr std::uint32_t swap_reach = 3;  // rows apart: a second watch may stand between

struct Entry {
  std::uint64_t key;
  double time_s;
  std::uint32_t row;
  std::uint32_t split;
};

// What is compared with what.
std::uint64_t key_of(const RawRow& row, std::uint16_t mark) {
  return (std::uint64_t{row.layout} << 32U) | (std::uint64_t{mark} << 8U) | (static_cast<std::uint64_t>(row.start) << 5U) |
         (static_cast<std::uint64_t>(row.posture) << 1U) | (row.laps ? 1U : 0U);
}

double median_of_sorted(const Entry* first, std::size_t n) {
  return n % 2 == 1 ? first[n / 2].time_s : 0.5 * (first[n / 2 - 1].time_s + first[n / 2].time_s);
}

double median(std::vector<double>& values) {
  const std::size_t middle = values.size() / 2;
  std::nth_element(values.begin(), values.begin() + static_cast<std::ptrdiff_t>(middle), values.end());
  return values[middle];
}

bool takes_part(const RawRow& row) { return row.flag == Flag::none && (row.leg < 2 || row.laps); }

// A row that strays from its player's usual time at its last mark.
struct Stray {
  std::uint32_t row;
  std::uint64_t key;
  double time_s;
  double usual_s;
};

class Finder {
 public:
  explicit Finder(RawLog& log) : log_(log) {}

  UsualTimes find() {
    const std::vector<std::uint32_t> order = rows_by_player(log_);
    for (std::size_t from = 0; from < order.size();) {
      entries_.clear();
      const NameId player = log_.rows[order[from]].player;
      for (; from < order.size() && log_.rows[order[from]].player == player; ++from) {
        add_entries(order[from]);
      }
      std::sort(entries_.begin(), entries_.end(),
                [](const Entry& a, const Entry& b) { return a.key != b.key ? a.key < b.key : a.time_s < b.time_s; });
      for (std::size_t k = 0; k < entries_.size();) {
        std::size_t end = k;
        while (end < entries_.size() && entries_[end].key == entries_[k].key) {
          ++end;
        }
        compare_group(player, k, end);
        k = end;
      }
    }
    compare_with_squad();
    find_swapped();
    std::sort(out_.odd.begin(), out_.odd.end(),
              [](const OddTime& a, const OddTime& b) { return std::pair(a.row, a.split) < std::pair(b.row, b.split); });
    return std::move(out_);
  }

 private:
  void add_entries(std::uint32_t number) {
    const RawRow& row = log_.rows[number];
    if (!takes_part(row)) {
      return;
    }
    for (std::uint32_t k = row.first_split; k < row.first_split + row.split_count; ++k) {
      const std::uint16_t mark = log_.split_mark[k];
      if (!log_.marks[mark].is_move) {
        entries_.push_back({key_of(row, mark), own_time_s(log_, row, k), number, k});
      }
    }
  }

  void compare_group(NameId player, std::size_t from, std::size_t end) {
    const std::size_t n = end - from;
    const double usual = median_of_sorted(&entries_[from], n);
    players_[entries_[from].key].push_back(usual);
    if (n < fewest_of_player) {
      thin_.insert(thin_.end(), entries_.begin() + static_cast<std::ptrdiff_t>(from),
                   entries_.begin() + static_cast<std::ptrdiff_t>(end));
      return;
    }
    for (std::size_t k = from; k < end && entries_[k].time_s * odd_for_player <= usual; ++k) {
      out_.odd.push_back({entries_[k].row, entries_[k].split, usual, true});
    }
    for (std::size_t k = end; k > from && entries_[k - 1].time_s >= odd_for_player * usual; --k) {
      out_.odd.push_back({entries_[k - 1].row, entries_[k - 1].split, usual, true});
    }
    if (n < fewest_for_swap || usual <= 0.0) {
      return;
    }
    usual_of_[{player, entries_[from].key}] = usual;
    for (std::size_t k = from; k < end; ++k) {
      const double shift = std::fabs(entries_[k].time_s / usual - 1.0);
      if (shifts_.size() < 100'000) {
        shifts_.push_back(shift);
      }
      const RawRow& row = log_.rows[entries_[k].row];
      if (shift > least_shift && entries_[k].split + 1 == row.first_split + row.split_count) {
        strays_.push_back({entries_[k].row, entries_[k].key, entries_[k].time_s, usual});
      }
    }
  }

  void compare_with_squad() {
    std::unordered_map<std::uint64_t, double> usual;
    for (auto& [key, medians] : players_) {
      if (medians.size() >= fewest_players) {
        usual[key] = median(medians);
      }
    }
    for (const Entry& entry : thin_) {
      const auto at = usual.find(entry.key);
      if (at != usual.end() && (entry.time_s * odd_for_squad <= at->second || entry.time_s >= odd_for_squad * at->second)) {
        out_.odd.push_back({entry.row, entry.split, at->second, false});
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
        if (a.player != b.player && a.file == b.file && a.date == b.date && strays_[i].key == strays_[j].key &&
            strayed(strays_[i], scale) && strayed(strays_[j], scale) && fits(strays_[i], strays_[j].usual_s, scale) &&
            fits(strays_[j], strays_[i].usual_s, scale)) {
          out_.swapped.emplace_back(strays_[i].row, strays_[j].row);
        }
      }
    }
  }

  static bool strayed(const Stray& s, double scale) { return std::fabs(s.time_s / s.usual_s - 1.0) > 4.0 * scale; }
  static bool fits(const Stray& s, double usual_s, double scale) {
    return std::fabs(s.time_s / usual_s - 1.0) < 2.0 * scale;
  }

  struct PlayerKey {
    NameId player;
    std::uint64_t key;
    bool operator==(const PlayerKey&) const = default;
  };
  struct PlayerKeyHash {
    std::size_t operator()(const PlayerKey& k) const {
      return static_cast<std::size_t>((k.key ^ (std::uint64_t{k.player} << 17U)) * 0x9E3779B97F4A7C15ULL);
    }
  };

  RawLog& log_;
  UsualTimes out_;
  std::vector<Entry> entries_;  // of one player
  std::vector<Entry> thin_;     // of players with few times at a mark
  std::vector<Stray> strays_;
  std::vector<double> shifts_;
  std::unordered_map<std::uint64_t, std::vector<double>> players_;
  std::unordered_map<PlayerKey, double, PlayerKeyHash> usual_of_;
};

}  // namespace

UsualTimes usual_times(RawLog& log) { return Finder(log).find(); }

double own_time_s(const RawLog& log, const RawRow& row, std::uint32_t split) {
  return row.laps && split > row.first_split ? log.split_time_s[split] - log.split_time_s[split - 1] : log.split_time_s[split];
}

std::vector<std::uint32_t> rows_by_player(const RawLog& log) {
  std::unordered_map<NameId, std::uint32_t> rank;
  std::vector<std::uint32_t> starts;
  std::vector<std::uint32_t> ranks(log.rows.size());
  NameId last = no_name;
  std::uint32_t last_rank = 0;
  for (std::size_t k = 0; k < log.rows.size(); ++k) {
    if (log.rows[k].bad) {
      continue;
    }
    if (log.rows[k].player != last || starts.empty()) {
      last = log.rows[k].player;
      const auto [at, is_new] = rank.try_emplace(last, static_cast<std::uint32_t>(starts.size()));
      last_rank = at->second;
      if (is_new) {
        starts.push_back(0);
      }
    }
    ranks[k] = last_rank;
    ++starts[last_rank];
  }
  std::uint32_t total = 0;
  for (std::uint32_t& start : starts) {
    total += std::exchange(start, total);
  }
  std::vector<std::uint32_t> ordered(total);
  for (std::size_t k = 0; k < log.rows.size(); ++k) {
    if (!log.rows[k].bad) {
      ordered[starts[ranks[k]]++] = static_cast<std::uint32_t>(k);
    }
  }
  return ordered;
}

}  // namespace bagsplit::runs::detail
