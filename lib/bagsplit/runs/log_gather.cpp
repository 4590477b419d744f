#include <algorithm>
#include <bit>
#include <numeric>
#include <unordered_map>
#include <utility>

#include "bagsplit/runs/log_compare.hpp"
#include "bagsplit/runs/log_rows.hpp"
#include "bagsplit/runs/log_usual.hpp"

namespace bagsplit::runs::detail {

namespace {

// What makes rows readings of one run, within one player.
struct RunKey {
  std::int32_t date;
  NameId place;
  NameId team;
  std::uint16_t course;
  std::uint16_t leg;
  std::uint32_t trial;

  bool operator==(const RunKey&) const = default;
};

struct RunKeyHash {
  std::size_t operator()(const RunKey& key) const {
    std::uint64_t h = static_cast<std::uint32_t>(key.date);
    for (const std::uint64_t part : {std::uint64_t{key.place}, std::uint64_t{key.team}, std::uint64_t{key.course},
                                     std::uint64_t{key.leg}, std::uint64_t{key.trial}}) {
      h = (h ^ part) * 0x9E3779B97F4A7C15ULL;
      h ^= h >> 29U;
    }
    return static_cast<std::size_t>(h);
  }
};

class Gatherer {
 public:
  Gatherer(RawLog& log, const ReadOptions& options) : log_(log), options_(options) {}

  RunLog gather() {
    ordered_ = rows_by_player(log_);
    out_.runs.reserve(ordered_.size());
    out_.readings.reserve(ordered_.size());
    out_.splits.reserve(log_.split_time_s.size());
    for (std::size_t from = 0; from < ordered_.size();) {
      std::size_t to = from;
      while (to < ordered_.size() && log_.rows[ordered_[to]].player == log_.rows[ordered_[from]].player) {
        ++to;
      }
      gather_player(std::span(ordered_).subspan(from, to - from));
      from = to;
    }
    gather_carried();
    out_.names = log_.names.take();
    out_.courses = log_.courses;
    for (const LogFile& file : log_.files) {
      out_.files.push_back(file.report.path());
    }
    out_.rows_read = log_.rows_read;
    return std::move(out_);
  }

 private:
  RunKey key_of(const RawRow& row, std::uint32_t trial) const {
    return {row.date, row.place, row.team, log_.layouts[row.layout].course, row.leg, trial};
  }

  void gather_player(std::span<const std::uint32_t> rows) {
    number_runs(rows);
    find_duplicates(rows);
    // Rows of one run together, runs in the order of their first rows.
    std::vector<std::uint32_t>& index = by_run_index_;
    index.resize(rows.size());
    std::iota(index.begin(), index.end(), 0U);
    std::stable_sort(index.begin(), index.end(), [&](auto a, auto b) { return run_of_[a] < run_of_[b]; });
    for (std::size_t from = 0; from < index.size();) {
      std::size_t to = from + 1;
      while (to < index.size() && run_of_[index[to]] == run_of_[index[from]]) {
        ++to;
      }
      add_run(rows, std::span(index).subspan(from, to - from), trial_of_[index[from]]);
      from = to;
    }
  }

  // A typed trial joins the rows that have it; a blank one is a run of its own and takes the lowest number that is free.
  void number_runs(std::span<const std::uint32_t> rows) {
    run_of_.resize(rows.size());
    trial_of_.resize(rows.size());
    runs_by_key_.clear();
    next_free_.clear();
    std::uint32_t count = 0;
    bool any_blank = false;
    for (std::size_t k = 0; k < rows.size(); ++k) {
      const RawRow& row = log_.rows[rows[k]];
      any_blank = any_blank || row.trial == 0;
      if (row.trial != 0) {
        runs_by_key_.try_emplace(key_of(row, row.trial), 0U);
      }
    }
    if (any_blank) {
      for (std::size_t k = 0; k < rows.size(); ++k) {
        const RawRow& row = log_.rows[rows[k]];
        if (row.trial == 0) {
          std::uint32_t& next = next_free_.try_emplace(key_of(row, 0), 1U).first->second;
          while (runs_by_key_.contains(key_of(row, next))) {
            ++next;
          }
          trial_of_[k] = next++;
        }
      }
    }
    for (auto& [key, run] : runs_by_key_) {
      run = no_name;
    }
    for (std::size_t k = 0; k < rows.size(); ++k) {
      const RawRow& row = log_.rows[rows[k]];
      if (row.trial == 0) {
        run_of_[k] = count++;
        continue;
      }
      std::uint32_t& run = runs_by_key_[key_of(row, row.trial)];
      if (run == no_name) {
        run = count++;
      }
      run_of_[k] = run;
      trial_of_[k] = row.trial;
    }
  }

  // The same times twice on one date and course: a row, a page or a file that was copied.
  void find_duplicates(std::span<const std::uint32_t> rows) {
    seen_times_.clear();
    for (std::size_t k = 0; k < rows.size(); ++k) {
      RawRow& row = log_.rows[rows[k]];
      if (row.split_count < 2) {
        continue;
      }
      std::uint64_t hash = (std::uint64_t{static_cast<std::uint32_t>(row.date)} << 32U) | row.layout;
      for (std::uint32_t j = row.first_split; j < row.first_split + row.split_count; ++j) {
        hash = (hash ^ std::bit_cast<std::uint64_t>(log_.split_time_s[j]) ^ log_.split_mark[j]) * 0x9E3779B97F4A7C15ULL;
        hash ^= hash >> 32U;
      }
      const auto [at, is_new] = seen_times_.try_emplace(hash, static_cast<std::uint32_t>(k));
      const RawRow& before = log_.rows[rows[at->second]];
      if (is_new || run_of_[at->second] == run_of_[k] || before.date != row.date || before.layout != row.layout ||
          before.leg != row.leg || !same_times(log_, row, before)) {
        continue;
      }
      row.suspicious = true;
      report_field(log_, row, Field::player, options_,
                   {.severity = Severity::suspicion, .code = "duplicate-run",
                    .message = "the same times as on " + place_of(log_, before, row) + ", as another run of this player",
                    .expected = "each run once", .hint = "is the row, or the file, there twice?"});
    }
  }

  void add_run(std::span<const std::uint32_t> rows, std::span<const std::uint32_t> members, std::uint32_t trial) {
    const RawRow& first = log_.rows[rows[members.front()]];
    Run run;
    run.player = first.player;
    run.place = first.place;
    run.team = first.team;
    run.surface = first.surface;
    run.first_reading = static_cast<std::uint32_t>(out_.readings.size());
    run.course = log_.layouts[first.layout].course;
    run.trial = static_cast<std::uint16_t>(std::min<std::uint32_t>(trial, 65535));
    run.leg = first.leg;
    run.posture = first.posture;
    run.date = Date{std::chrono::days{first.date}};
    run.base_distance_m = log_.layouts[first.layout].base_m;
    run.wind_mps = first.wind_mps;
    run.temperature_c = first.temperature_c;
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
    out_.runs.push_back(run);
  }

  void add_reading(const RawRow& row, std::uint32_t number) {
    Reading reading;
    reading.timer = row.timer;
    reading.note = row.note;
    reading.first_split = static_cast<std::uint32_t>(out_.splits.size());
    reading.split_count = row.split_count;
    reading.device = row.device;
    reading.start = row.start;
    reading.flag = row.flag;
    reading.beam_distance_m = row.beam_m;
    reading.line = row.line;
    reading.file = row.file;
    reading.suspicious = row.suspicious;
    reading.laps = row.laps;
    for (std::uint32_t k = row.first_split; k < row.first_split + row.split_count; ++k) {
      const MarkInfo& mark = log_.marks[log_.split_mark[k]];
      out_.splits.push_back({mark.is_move ? 0.0 : log_.mark_m(row.layout, log_.split_mark[k]), log_.split_time_s[k],
                             mark.name, mark.is_move});
    }
    if (!log_.carried.empty()) {
      reading_of_row_.emplace(number, static_cast<std::uint32_t>(out_.readings.size()));
    }
    out_.readings.push_back(reading);
  }

  void gather_carried() {
    for (const RawCarried& cell : log_.carried) {
      if (const auto at = reading_of_row_.find(cell.row); at != reading_of_row_.end()) {
        out_.carried.push_back({at->second, cell.column, cell.text});
      }
    }
    std::stable_sort(out_.carried.begin(), out_.carried.end(),
                     [](const Carried& a, const Carried& b) { return a.reading < b.reading; });
  }

  RawLog& log_;
  const ReadOptions& options_;
  RunLog out_;
  std::vector<std::uint32_t> ordered_;  // rows, by player
  std::vector<std::uint32_t> by_run_index_;
  std::vector<std::uint32_t> members_;  // rows of the run at hand
  std::vector<std::uint32_t> run_of_;    // of each of a player's rows
  std::vector<std::uint32_t> trial_of_;
  std::unordered_map<RunKey, std::uint32_t, RunKeyHash> runs_by_key_;
  std::unordered_map<RunKey, std::uint32_t, RunKeyHash> next_free_;
  std::unordered_map<std::uint64_t, std::uint32_t> seen_times_;
  std::unordered_map<std::uint32_t, std::uint32_t> reading_of_row_;  // filled only when there are x- columns
};

}  // namespace

RunLog gather_runs(RawLog& log, const ReadOptions& options) { return Gatherer(log, options).gather(); }

}  // namespace bagsplit::runs::detail
