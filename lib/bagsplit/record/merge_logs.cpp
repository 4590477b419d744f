#include "bagsplit/record/merge_logs.hpp"

#include <algorithm>
#include <map>
#include <vector>

#include "bagsplit/record/detail/aligned_logs.hpp"
#include "bagsplit/runs/log/log_summary.hpp"
#include "bagsplit/runs/log/write_run_log.hpp"
#include "bagsplit/runs/typed.hpp"
#include "bagsplit/text/text.hpp"

namespace bagsplit::record {

namespace {

using namespace runs;

std::string times_of(const RunLog& log, const Reading& reading) {
  std::string out;
  for (const Split& split : log.splits_of(reading)) {
    out += (out.empty() ? "" : " ") + log.name(split.mark) + " " + format_number(split.time_s);
  }
  const std::string flag(flag_name(reading.flag));
  return out + (flag.empty() ? "" : (out.empty() ? "" : " ") + flag);
}

struct Seen {
  std::string times;
  std::string where;
};

// One file written plainly, a line for each reading.
struct Plain {
  std::string text;
  std::vector<std::uint32_t> original_line;  // by line of `text`; 0 above the first row
};

class Merging {
 public:
  Merging(std::span<const LogText> files, const ReadOptions& options, const MergeAnswers& answers)
      : files_(files), options_(options), answers_(answers), plain_(files.size()) {}

  MergeResult merge() {
    std::vector<RunLog> logs;
    for (std::size_t f = 0; f < files_.size(); ++f) {
      RunLogResult one = read_run_logs(files_.subspan(f, 1), options_);
      const bool good = !text::has_errors(one.problems);
      // Suspicions are told once, of all files together.
      std::erase_if(one.problems, [&](const text::Problem& p) {
        return good && p.severity == text::Severity::suspicion && p.code != "torn-line";
      });
      std::move(one.problems.begin(), one.problems.end(), std::back_inserter(out_.problems));
      logs.push_back(std::move(one.log));
    }
    out_.open = detail::align_logs(files_, logs, answers_, out_.problems);
    for (std::size_t f = 0; f < files_.size(); ++f) {
      write_plain(f, logs[f]);
    }
    read_together();
    return std::move(out_);
  }

 private:
  void write_plain(std::size_t f, const RunLog& log) {
    const std::string text = write_run_log(log);
    std::size_t at = 0;
    while (text[at] == '#' || text.compare(at, 2, "\"#") == 0) {
      at = text.find('\n', at) + 1;
    }
    at = text.find('\n', at) + 1;
    Plain& plain = plain_[f];
    plain.text = text.substr(0, at);
    plain.original_line.assign(
        static_cast<std::size_t>(std::count(text.begin(), text.begin() + static_cast<std::ptrdiff_t>(at), '\n')) + 1,
        0);
    for (const Run& run : log.runs) {
      for (const Reading& reading : log.readings_of(run)) {
        const std::size_t end = text.find('\n', at) + 1;
        if (is_new(f, log, run, reading)) {
          plain.text.append(text, at, end - at);
          plain.original_line.push_back(reading.line);
        }
        at = end;
      }
    }
  }

  bool is_new(std::size_t f, const RunLog& log, const Run& run, const Reading& reading) {
    const std::string where = files_[f].path + ":" + std::to_string(reading.line);
    const std::string times = times_of(log, reading);
    const auto [old, fresh] = seen_.try_emplace(detail::key_of(log, run, reading), Seen{times, where});
    if (fresh) {
      return true;
    }
    if (old->second.times == times) {
      ++out_.same;
      return false;
    }
    ++out_.conflicts;
    const std::string timer = log.name(reading.timer);
    out_.problems.push_back({.code = "conflicting-entries",
                             .path = files_[f].path,
                             .line = reading.line,
                             .message = "player " + log.name(run.player) + ", trial " + std::to_string(run.trial) +
                                        (timer.empty() ? "" : ", timer " + timer) + ": here " + times + ", but " +
                                        old->second.times + " at " + old->second.where,
                             .expected = "the same times, or another timer or trial",
                             .hint = "correct one of the two with bagsplit record, then merge again" +
                                     std::string(timer.empty() ? "; two recorders need a timer's name each" : "")});
    return false;
  }

  void read_together() {
    std::vector<LogText> texts;
    for (std::size_t f = 0; f < files_.size(); ++f) {
      texts.push_back({plain_[f].text, files_[f].path, false});
    }
    RunLogResult all = read_run_logs(texts, options_);
    for (text::Problem& problem : all.problems) {
      const auto file =
          std::find_if(files_.begin(), files_.end(), [&](const LogText& text) { return text.path == problem.path; });
      if (file == files_.end() || problem.severity == text::Severity::note ||
          (text::has_errors(out_.problems) && problem.severity == text::Severity::error)) {
        continue;
      }
      const auto& lines = plain_[static_cast<std::size_t>(file - files_.begin())].original_line;
      problem.line = problem.line < lines.size() ? lines[problem.line] : 0;
      problem.column = 0;
      problem.length = 0;
      problem.source_line.clear();
      out_.problems.push_back(std::move(problem));
    }
    out_.log = std::move(all.log);
    put_trials_in_order();
  }

  // A run that only a later file has stands between its player's others.
  void put_trials_in_order() {
    std::vector<Run>& runs = out_.log.runs;
    for (std::size_t from = 0; from < runs.size();) {
      std::size_t to = from + 1;
      while (to < runs.size() && runs[to].player == runs[from].player) {
        ++to;
      }
      std::map<std::tuple<Date, NameId, std::uint16_t, NameId>, std::size_t> first_seen;
      const auto kind = [&](const Run& run) { return std::tuple(run.date, run.place, run.course, run.team); };
      for (std::size_t k = from; k < to; ++k) {
        first_seen.try_emplace(kind(runs[k]), k);
      }
      std::stable_sort(runs.begin() + static_cast<std::ptrdiff_t>(from), runs.begin() + static_cast<std::ptrdiff_t>(to),
                       [&](const Run& a, const Run& b) {
                         return std::pair(first_seen.at(kind(a)), a.trial) < std::pair(first_seen.at(kind(b)), b.trial);
                       });
      from = to;
    }
  }

  std::span<const LogText> files_;
  const ReadOptions& options_;
  const MergeAnswers& answers_;
  std::vector<Plain> plain_;
  std::map<std::string, Seen> seen_;
  MergeResult out_;
};

}  // namespace

MergeResult merge_logs(std::span<const runs::LogText> files, const runs::ReadOptions& options,
                       const MergeAnswers& answers) {
  return Merging(files, options, answers).merge();
}

}  // namespace bagsplit::record
