#include "bagsplit/record/merge_logs.hpp"

#include <algorithm>
#include <map>
#include <vector>

#include "bagsplit/runs/log/log_summary.hpp"
#include "bagsplit/runs/log/write_run_log.hpp"
#include "bagsplit/runs/typed.hpp"
#include "bagsplit/text/text.hpp"

namespace bagsplit::record {

namespace {

using namespace runs;

std::string key_of(const RunLog& log, const Run& run, const Reading& reading) {
  std::string key = format_date(run.date);
  for (const std::string& part :
       {log.name(run.place), log.name(run.player), log.courses[run.course].name, std::to_string(run.trial),
        log.name(run.team), std::to_string(run.leg), log.name(reading.timer)}) {
    key += '\n' + part;
  }
  return key;
}

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

}  // namespace

MergeResult merge_logs(std::span<const runs::LogText> files, const runs::ReadOptions& options) {
  MergeResult out;
  std::map<std::string, Seen> seen;
  std::vector<Plain> plain(files.size());

  for (std::size_t f = 0; f < files.size(); ++f) {
    RunLogResult one = read_run_logs(files.subspan(f, 1), options);
    const bool good = !text::has_errors(one.problems);
    // Suspicions are told once, of all files together.
    std::erase_if(one.problems, [&](const text::Problem& p) {
      return good && p.severity == text::Severity::suspicion && p.code != "torn-line";
    });
    std::move(one.problems.begin(), one.problems.end(), std::back_inserter(out.problems));
    const std::string text = write_run_log(one.log);
    std::size_t at = 0;
    while (text[at] == '#' || text.compare(at, 2, "\"#") == 0) {
      at = text.find('\n', at) + 1;
    }
    at = text.find('\n', at) + 1;
    plain[f].text = text.substr(0, at);
    plain[f].original_line.assign(
        static_cast<std::size_t>(std::count(text.begin(), text.begin() + static_cast<std::ptrdiff_t>(at), '\n')) + 1,
        0);
    for (const Run& run : one.log.runs) {
      for (const Reading& reading : one.log.readings_of(run)) {
        const std::size_t end = text.find('\n', at) + 1;
        const std::string where = files[f].path + ":" + std::to_string(reading.line);
        const std::string times = times_of(one.log, reading);
        const auto [old, is_new] = seen.try_emplace(key_of(one.log, run, reading), Seen{times, where});
        if (is_new) {
          plain[f].text.append(text, at, end - at);
          plain[f].original_line.push_back(reading.line);
        } else if (old->second.times == times) {
          ++out.same;
        } else {
          ++out.conflicts;
          const std::string timer = one.log.name(reading.timer);
          out.problems.push_back({.code = "conflicting-entries",
                                  .path = files[f].path,
                                  .line = reading.line,
                                  .message = "player " + one.log.name(run.player) + ", trial " +
                                             std::to_string(run.trial) + (timer.empty() ? "" : ", timer " + timer) +
                                             ": here " + times + ", but " + old->second.times + " at " +
                                             old->second.where,
                                  .expected = "the same times, or another timer or trial",
                                  .hint = "correct one of the two with bagsplit record, then merge again"});
        }
        at = end;
      }
    }
  }
  std::vector<LogText> texts;
  for (std::size_t f = 0; f < files.size(); ++f) {
    texts.push_back({plain[f].text, files[f].path, false});
  }
  RunLogResult all = read_run_logs(texts, options);
  for (text::Problem& problem : all.problems) {
    const auto file =
        std::find_if(files.begin(), files.end(), [&](const LogText& text) { return text.path == problem.path; });
    if (file == files.end() || problem.severity == text::Severity::note ||
        (text::has_errors(out.problems) && problem.severity == text::Severity::error)) {
      continue;
    }
    const auto& lines = plain[static_cast<std::size_t>(file - files.begin())].original_line;
    problem.line = problem.line < lines.size() ? lines[problem.line] : 0;
    problem.column = 0;
    problem.length = 0;
    problem.source_line.clear();
    out.problems.push_back(std::move(problem));
  }
  out.log = std::move(all.log);
  return out;
}

}  // namespace bagsplit::record
