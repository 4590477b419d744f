#include <algorithm>
#include <numeric>
#include <utility>

#include "bagsplit/runs/log/detail/log_compare.hpp"
#include "bagsplit/runs/log/detail/log_rows.hpp"
#include "bagsplit/runs/log/detail/log_usual.hpp"
#include "bagsplit/text/first_seen.hpp"
#include "bagsplit/text/memory_hints.hpp"

namespace bagsplit::runs::detail {

namespace {

constexpr std::uint32_t no_reading = 0xFFFFFFFFU;

class Gatherer {
 public:
  Gatherer(RawLog& log, const ReadOptions& options) : log_(log), options_(options) {}

  RunLog gather() {
    if (log_.by_player.size() == 0) {
      log_.by_player = rows_by_player(log_);
    }
    const PlayerRows& players = log_.by_player;
    if (!log_.carried.empty()) {
      reading_of_row_.assign(log_.rows.size(), no_reading);
    }
    if (!log_.heats.empty()) {
      run_of_row_.assign(log_.rows.size(), no_reading);
    }
    text::detail::reserve_large(out_.runs, players.rows.size());
    text::detail::reserve_large(out_.readings, players.rows.size());
    for (std::size_t player = 0; player < players.size(); ++player) {
      gather_player(players.rows_of(player));
    }
    gather_splits();
    gather_carried();
    gather_heats();
    out_.names = log_.names.take();
    out_.courses = log_.courses;
    for (const LogFile& file : log_.files) {
      out_.files.push_back(file.report.path());
    }
    out_.rows_read = log_.rows_read;
    return std::move(out_);
  }

 private:
  void gather_player(std::span<const std::uint32_t> rows) {
    number_runs(rows);
    find_duplicates(rows);
    // Rows of one run together, runs in the order of their first rows, as most logs have them.
    std::vector<std::uint32_t>& index = by_run_index_;
    index.resize(rows.size());
    std::iota(index.begin(), index.end(), 0U);
    if (!std::is_sorted(run_of_.begin(), run_of_.end())) {
      std::stable_sort(index.begin(), index.end(), [&](auto a, auto b) { return run_of_[a] < run_of_[b]; });
    }
    for (std::size_t from = 0; from < index.size();) {
      std::size_t to = from + 1;
      while (to < index.size() && run_of_[index[to]] == run_of_[index[from]]) {
        ++to;
      }
      add_run(rows, std::span(index).subspan(from, to - from), trial_of_[index[from]]);
      from = to;
    }
  }

  // What makes rows readings of one run, within one player, beside the trial.
  bool same_but_trial(const RawRow& a, const RawRow& b) const {
    if (a.date != b.date || a.leg != b.leg) {
      return false;
    }
    const Setting& here = log_.setting_of(a);
    const Setting& there = log_.setting_of(b);
    return here.place == there.place && here.team == there.team && log_.layout_of(a).course == log_.layout_of(b).course;
  }

  std::uint64_t hash_of(const RawRow& row, std::uint32_t trial) const {
    const std::uint64_t when = (std::uint64_t{static_cast<std::uint32_t>(row.date)} << 32U) | trial;
    const Setting& setting = log_.setting_of(row);
    const std::uint64_t where = (std::uint64_t{setting.place} << 32U) | setting.team;
    const std::uint64_t what = (std::uint64_t{log_.layout_of(row).course} << 16U) | row.leg;
    return text::detail::hash_on(text::detail::hash_on(text::detail::hash_on(0, when), where), what);
  }

  // A typed trial joins the rows that have it; a blank one is a run of its own and takes the lowest number that is
  // free.
  void number_runs(std::span<const std::uint32_t> rows) {
    run_of_.resize(rows.size());
    trial_of_.resize(rows.size());
    first_of_run_.resize(rows.size());
    typed_.start(rows.size());
    bool any_blank = false;
    for (std::uint32_t k = 0; k < rows.size(); ++k) {
      const RawRow& row = log_.rows[rows[k]];
      trial_of_[k] = row.trial;
      first_of_run_[k] = k;
      if (row.trial == 0) {
        any_blank = true;
        continue;
      }
      first_of_run_[k] = typed_.first_of(hash_of(row, row.trial), k, [&](std::uint32_t other) {
        return trial_of_[other] == row.trial && same_but_trial(log_.rows[rows[other]], row);
      });
    }
    if (any_blank) {
      number_blank_trials(rows);
    }
    std::uint32_t count = 0;
    for (std::uint32_t k = 0; k < rows.size(); ++k) {
      run_of_[k] = first_of_run_[k] == k ? count++ : run_of_[first_of_run_[k]];
    }
  }

  void number_blank_trials(std::span<const std::uint32_t> rows) {
    blank_.start(rows.size());
    next_trial_.assign(rows.size(), 1U);  // of the first row of a kind: the number to try next
    for (std::uint32_t k = 0; k < rows.size(); ++k) {
      const RawRow& row = log_.rows[rows[k]];
      if (row.trial != 0) {
        continue;
      }
      const auto is_taken = [&](std::uint32_t trial) {
        return typed_.contains(hash_of(row, trial), [&](std::uint32_t other) {
          return trial_of_[other] == trial && same_but_trial(log_.rows[rows[other]], row);
        });
      };
      const std::uint32_t first = blank_.first_of(
          hash_of(row, 0), k, [&](std::uint32_t other) { return same_but_trial(log_.rows[rows[other]], row); });
      std::uint32_t& next = next_trial_[first];
      while (is_taken(next)) {
        ++next;
      }
      trial_of_[k] = next++;
    }
  }

  // The same times twice on one date and course: a row, a page or a file that was copied.
  void find_duplicates(std::span<const std::uint32_t> rows) {
    timed_.start(rows.size());
    for (std::uint32_t k = 0; k < rows.size(); ++k) {
      RawRow& row = log_.rows[rows[k]];
      if (row.split_count < 2) {
        continue;
      }
      const std::uint32_t layout = log_.setting_of(row).layout;
      const std::uint64_t hash =
          text::detail::hash_on(row.times_hash, (std::uint64_t{static_cast<std::uint32_t>(row.date)} << 32U) | layout);
      const std::uint32_t first = timed_.first_of(hash, k, [&](std::uint32_t other) {
        const RawRow& before = log_.rows[rows[other]];
        return before.date == row.date && log_.setting_of(before).layout == layout && same_times(log_, row, before);
      });
      const RawRow& before = log_.rows[rows[first]];
      if (first == k || run_of_[first] == run_of_[k] || before.leg != row.leg) {
        continue;
      }
      row.suspicious = true;
      report_field(
          log_, row, Field::player, options_,
          {.severity = text::Severity::suspicion,
           .code = "duplicate-run",
           .message = "the same times as on " + place_of(log_, before, row) + ", as another run of this player",
           .expected = "each run once",
           .hint = "is the row, or the file, there twice?"});
    }
  }

  void add_run(std::span<const std::uint32_t> rows, std::span<const std::uint32_t> members, std::uint32_t trial) {
    const RawRow& first = log_.rows[rows[members.front()]];
    const Setting& setting = log_.setting_of(first);
    Run& run = out_.runs.emplace_back();
    run.player = first.player;
    run.place = setting.place;
    run.team = setting.team;
    run.surface = setting.surface;
    run.first_reading = static_cast<std::uint32_t>(out_.readings.size());
    run.course = log_.layouts[setting.layout].course;
    run.trial = static_cast<std::uint16_t>(std::min<std::uint32_t>(trial, 65535));
    run.leg = first.leg;
    run.posture = setting.posture;
    run.date = Date{std::chrono::days{first.date}};
    run.base_distance_m = log_.layouts[setting.layout].base_m;
    run.wind_mps = setting.wind_mps;
    run.temperature_c = setting.temperature_c;
    members_.clear();
    for (const std::uint32_t member : members) {
      RawRow& row = log_.rows[rows[member]];
      if (!members_.empty()) {
        if (!fits_run(log_, row, members_, options_)) {
          row.bad = true;
          continue;
        }
        compare_watches(log_, row, members_, options_);
      }
      members_.push_back(rows[member]);
      add_reading(row, rows[member]);
      if (run.flag == Flag::none) {
        run.flag = row.flag;
      }
      ++run.reading_count;
    }
  }

  void add_reading(const RawRow& row, std::uint32_t number) {
    if (!run_of_row_.empty()) {
      run_of_row_[number] = static_cast<std::uint32_t>(out_.runs.size() - 1);
    }
    if (!log_.carried.empty()) {
      reading_of_row_[number] = static_cast<std::uint32_t>(out_.readings.size());
    }
    const Setting& setting = log_.setting_of(row);
    Reading& reading = out_.readings.emplace_back();
    reading.timer = row.timer;
    reading.note = row.note;
    reading.first_split = row.first_split;
    reading.split_count = row.split_count;
    reading.device = setting.device;
    reading.start = setting.start;
    reading.signal = setting.start == StartKind::signal ? setting.signal : Signal::unsaid;
    reading.flag = row.flag;
    reading.beam_distance_m = setting.beam_m;
    reading.line = row.line;
    reading.file = setting.file;
    reading.suspicious = row.suspicious;
    reading.laps = row.laps;
    if (const auto aside = log_.set_aside.find(number); aside != log_.set_aside.end()) {
      SetAside& to = out_.set_aside.emplace_back(aside->second);
      to.reading = static_cast<std::uint32_t>(out_.readings.size() - 1);
    }
    splits_used_ += row.split_count;
  }

  // The splits as they were read, unless rows fell out or much more room was made than used.
  void gather_splits() {
    if (splits_used_ == log_.splits.size() && log_.splits.capacity() / 2 <= splits_used_) {
      out_.splits = std::move(log_.splits);
      return;
    }
    text::detail::reserve_large(out_.splits, splits_used_);
    for (Reading& reading : out_.readings) {
      const auto from = log_.splits.begin() + reading.first_split;
      reading.first_split = static_cast<std::uint32_t>(out_.splits.size());
      out_.splits.insert(out_.splits.end(), from, from + reading.split_count);
    }
  }

  void gather_carried() {
    for (const RawCarried& cell : log_.carried) {
      if (const std::uint32_t reading = reading_of_row_[cell.row]; reading != no_reading) {
        out_.carried.push_back({reading, cell.column, cell.text});
      }
    }
    std::stable_sort(out_.carried.begin(), out_.carried.end(),
                     [](const Carried& a, const Carried& b) { return a.reading < b.reading; });
  }

  // Rows of heats, by the runs they have become; those with an error are no runs.
  void gather_heats() {
    for (const Heat& heat : log_.heats) {
      Heat kept = heat;
      kept.first_finisher = static_cast<std::uint32_t>(out_.finishers.size());
      for (std::uint32_t k = 0; k < heat.finisher_count; ++k) {
        const Finisher& finisher = log_.finishers[heat.first_finisher + k];
        if (const std::uint32_t run = run_of_row_[finisher.run]; run != no_reading) {
          out_.finishers.push_back({run, finisher.place});
          out_.runs[run].in_heat = true;
        }
      }
      kept.finisher_count = static_cast<std::uint32_t>(out_.finishers.size()) - kept.first_finisher;
      if (kept.finisher_count > 0) {
        out_.heats.push_back(kept);
      }
    }
  }

  RawLog& log_;
  const ReadOptions& options_;
  RunLog out_;
  std::vector<std::uint32_t> by_run_index_;
  std::vector<std::uint32_t> members_;  // rows of the run at hand
  std::vector<std::uint32_t> run_of_;   // of each of a player's rows
  std::vector<std::uint32_t> trial_of_;
  std::vector<std::uint32_t> first_of_run_;
  std::vector<std::uint32_t> next_trial_;
  text::detail::FirstSeen typed_;  // rows with a trial, by run
  text::detail::FirstSeen blank_;  // rows without, by all but the trial
  text::detail::FirstSeen timed_;  // rows by their times
  std::size_t splits_used_ = 0;
  std::vector<std::uint32_t> run_of_row_;      // filled only when there are heats
  std::vector<std::uint32_t> reading_of_row_;  // filled only when there are x- columns
};

}  // namespace

RunLog gather_runs(RawLog& log, const ReadOptions& options) {
  return Gatherer(log, options).gather();
}

}  // namespace bagsplit::runs::detail
