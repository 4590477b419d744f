#include "bagsplit/runs/log/detail/log_compare.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <map>

#include "bagsplit/runs/roster/detail/roster_words.hpp"
#include "bagsplit/runs/typed.hpp"
#include "bagsplit/stats/quantile.hpp"

namespace bagsplit::runs::detail {

namespace {

constexpr std::size_t most_readings = 100;  // each is compared with each

bool has_common_mark(const RawLog& log, const RawRow& a, const RawRow& b) {
  const auto theirs = log.splits_of(b);
  const auto ours = log.splits_of(a);
  return std::any_of(ours.begin(), ours.end(), [&](const Split& here) {
    return std::any_of(theirs.begin(), theirs.end(), [&](const Split& there) { return here.mark == there.mark; });
  });
}

// Why one run may be there twice: two children under one bib, a copy, two drills whose trials both count from 1.
std::string why_twice(const RawLog& log, const RawRow& row, const RawRow& before, const ReadOptions& options) {
  const std::string& player = log.names.text(row.player);
  if (options.roster != nullptr && options.roster->find(player) == nullptr &&
      ids_with_bib(*options.roster, player).size() > 1) {
    return bib_or_name_hint(*options.roster, player);
  }
  if (same_times(log, row, before)) {
    return "the times are the same: is the row, or the file, there twice?";
  }
  if (log.setting_of(row).file != log.setting_of(before).file && !has_common_mark(log, row, before)) {
    return "two drills of one evening? a line '# place: ...' of its own above the header of one file parts them";
  }
  return "leave 'trial' empty and each row is a run of its own";
}

bool is_new_timer(RawLog& log, const RawRow& row, std::span<const std::uint32_t> earlier, const ReadOptions& options) {
  for (const std::uint32_t other : earlier) {
    const RawRow& before = log.rows[other];
    if (before.timer != row.timer) {
      continue;
    }
    const bool unnamed = row.timer == no_name;
    const std::string place = place_of(log, before, row);
    report_field(log, row, Field::timer, options,
                 {.code = "repeated-reading",
                  .message = unnamed ? std::string("the same run is timed twice, and no timer is named")
                                     : "the same timer has timed this run on " + place,
                  .expected = unnamed ? "another timer's name, or another trial, than on " + place
                                      : std::string("another timer, or another trial"),
                  .hint = why_twice(log, row, before, options)});
    return false;
  }
  return true;
}

bool has_same_conditions(RawLog& log, const RawRow& row, const RawRow& first, const ReadOptions& options) {
  const auto differ = [&](Field field, bool differs) {
    if (differs) {
      const std::string name(field_names.at(static_cast<std::size_t>(field)));
      report_field(
          log, row, field, options,
          {.code = "conflicting-readings",
           .message = "'" + name + "' is not as on " + place_of(log, first, row) + ", another reading of this run",
           .expected = "the same conditions in all readings of one run",
           .hint = "is it another trial?"});
    }
    return differs;
  };
  const Setting& here = log.setting_of(row);
  const Setting& there = log.setting_of(first);
  const auto other = [](float a, float b) { return !std::isnan(a) && !std::isnan(b) && a != b; };
  return !(differ(Field::posture, here.posture != there.posture) ||
           differ(Field::base_distance, log.layout_of(row).base_m != log.layout_of(first).base_m) ||
           differ(Field::surface, here.surface != there.surface) ||
           differ(Field::wind, other(here.wind_mps, there.wind_mps)) ||
           differ(Field::temperature, other(here.temperature_c, there.temperature_c)));
}

// What two watches do at one mark on all runs they share: the second's time less the first's.
struct TwoWatches {
  std::vector<double> apart_s;
  double usual_s = 0.0;  // of the differences
  double limit_s = 0.0;
};

// Below 6 runs nothing is known of two watches; a few more say little of their spread, so 0.12 s counts like 6 of them.
// Four robust SDs, at the least 0.04 s. Common practice, no source.
constexpr std::size_t least_pairs = 6;
constexpr double usual_sd_s = 0.12;
constexpr double sds_off = 4.0;
constexpr double least_limit_s = 0.04;
constexpr double mad_to_sd = 1.4826;

void find_limit(TwoWatches& two, const ReadOptions& options) {
  two.limit_s = options.limits.watches_apart_s;
  if (two.apart_s.size() < least_pairs) {
    return;
  }
  two.usual_s = *stats::median(two.apart_s);
  std::vector<double> away_s;
  for (const double d : two.apart_s) {
    away_s.push_back(std::fabs(d - two.usual_s));
  }
  const double sd = mad_to_sd * *stats::median(away_s);
  const auto n = static_cast<double>(away_s.size());
  const auto before = static_cast<double>(least_pairs);
  two.limit_s =
      std::max(least_limit_s, sds_off * std::sqrt((before * usual_sd_s * usual_sd_s + n * sd * sd) / (before + n)));
}

class WatchBook {
 public:
  explicit WatchBook(const RawLog& log) : log_(log) {}

  // Calls visit(watches, mark, difference, whether the row is the second of the two) for each mark both have.
  template <typename Visit>
  void each(const WatchPair& pair, const Visit& visit) {
    const RawRow& row = log_.rows[pair.row];
    const RawRow& before = log_.rows[pair.before];
    const bool second = row.timer > before.timer;
    const Setting& setting = log_.setting_of(row);
    std::size_t k = 0;
    for (const Split& here : log_.splits_of(row)) {
      for (const Split& there : log_.splits_of(before)) {
        if (here.mark == there.mark) {
          const Key key{std::min(row.timer, before.timer), std::max(row.timer, before.timer),
                        static_cast<std::uint32_t>(setting.device) << 8U | static_cast<std::uint32_t>(setting.start),
                        here.mark};
          const double d = here.time_s - there.time_s;
          visit(of(key, k), here.mark, second ? d : -d, second);
        }
      }
      ++k;
    }
  }

  void judge(const ReadOptions& options) {
    for (auto& [key, two] : book_) {
      find_limit(two, options);
    }
  }

 private:
  using Key = std::array<std::uint32_t, 4>;

  // Most pairs are of the watches that the pair before was of.
  TwoWatches& of(const Key& key, std::size_t column) {
    if (last_.size() <= column) {
      last_.resize(column + 1, {Key{}, nullptr});
    }
    auto& [old, two] = last_[column];
    if (two == nullptr || old != key) {
      old = key;
      two = &book_[key];
    }
    return *two;
  }

  const RawLog& log_;
  std::map<Key, TwoWatches> book_;
  std::vector<std::pair<Key, TwoWatches*>> last_;
};

}  // namespace

bool fits_run(RawLog& log, const RawRow& row, std::span<const std::uint32_t> earlier, const ReadOptions& options) {
  if (earlier.size() >= most_readings) {
    report_field(log, row, Field::timer, options,
                 {.code = "too-many-readings",
                  .message = "more than " + std::to_string(most_readings) + " readings of one run",
                  .expected = "a few timers for each run",
                  .hint = "leave 'trial' empty and each row is a run of its own"});
    return false;
  }
  return is_new_timer(log, row, earlier, options) && has_same_conditions(log, row, log.rows[earlier.front()], options);
}

bool can_compare(const RawLog& log, const RawRow& row, const RawRow& before) {
  const Setting& here = log.setting_of(row);
  const Setting& there = log.setting_of(before);
  return there.start == here.start && there.device == here.device && before.flag == Flag::none &&
         row.flag == Flag::none && !row.checked && !before.checked;
}

std::vector<std::uint32_t> compare_watches(RawLog& log, std::span<const WatchPair> pairs, const ReadOptions& options) {
  WatchBook book(log);
  for (const WatchPair& pair : pairs) {
    book.each(pair, [](TwoWatches& two, NameId, double apart_s, bool) { two.apart_s.push_back(apart_s); });
  }
  book.judge(options);
  std::vector<std::uint32_t> out;
  for (const WatchPair& pair : pairs) {
    if (!out.empty() && out.back() == pair.row) {
      continue;
    }
    bool told = false;
    book.each(pair, [&](const TwoWatches& two, NameId mark, double apart_s, bool second) {
      if (told || std::fabs(apart_s - two.usual_s) <= two.limit_s + 1e-9) {
        return;
      }
      told = true;
      out.push_back(pair.row);
      const double usual_s = std::round((second ? two.usual_s : -two.usual_s) * 100.0) / 100.0;
      const std::string limit = format_number(std::round(two.limit_s * 100.0) / 100.0) + " s";
      report_mark(
          log, log.rows[pair.row], mark, options,
          {.severity = text::Severity::suspicion,
           .code = "watches-disagree",
           .message = "another watch on this run, on " + place_of(log, log.rows[pair.before], log.rows[pair.row]) +
                      ", tells a much different time",
           .expected = two.apart_s.size() < least_pairs
                           ? "within " + limit + " of it"
                           : (usual_s == 0.0 ? "within " + limit + " of it"
                                             : format_number(std::fabs(usual_s)) + " s " +
                                                   (usual_s > 0.0 ? "more" : "less") + ", give or take " + limit) +
                                 ", as these two watches usually have it",
           .hint = "is it another trial?"});
    });
  }
  return out;
}

bool same_times(const RawLog& log, const RawRow& a, const RawRow& b) {
  if (a.times_hash != b.times_hash) {
    return false;
  }
  const auto ours = log.splits_of(a);
  const auto theirs = log.splits_of(b);
  return std::equal(ours.begin(), ours.end(), theirs.begin(), theirs.end(),
                    [](const Split& x, const Split& y) { return x.time_s == y.time_s && x.mark == y.mark; });
}

std::string place_of(const RawLog& log, const RawRow& row, const RawRow& seen_from) {
  const std::string line = "line " + std::to_string(row.line);
  const bool same_file = log.setting_of(row).file == log.setting_of(seen_from).file;
  return same_file ? line : line + " of " + log.file_of(row).report.path();
}

}  // namespace bagsplit::runs::detail
