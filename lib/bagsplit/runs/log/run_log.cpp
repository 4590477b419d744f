#include "bagsplit/runs/log/run_log.hpp"

#include <limits>

#include "bagsplit/runs/log/detail/log_rows.hpp"

namespace bagsplit::runs {

RunLogResult read_run_logs(std::span<const LogText> files, const ReadOptions& options) {
  constexpr std::size_t most_files = std::numeric_limits<std::uint16_t>::max();
  RunLogResult result;
  detail::RawLog log;
  log.courses = builtin_courses();
  log.courses.insert(log.courses.end(), options.courses.begin(), options.courses.end());
  log.drills = builtin_drills();
  log.drills.insert(log.drills.end(), options.drills.begin(), options.drills.end());
  log.files.reserve(std::min(files.size(), most_files));
  for (const LogText& file : files.first(std::min(files.size(), most_files))) {
    log.files.push_back(
        {file.text, FileReport(file.path, options.max_problems), file.from_folder, ',', DateOrder::iso, false, {}, {}});
    detail::read_rows(log, static_cast<std::uint16_t>(log.files.size() - 1), options);
  }
  detail::resolve_entries(log, options);
  detail::check_rows(log, options);
  result.log = detail::gather_runs(log, options);
  for (detail::LogFile& file : log.files) {
    file.report.deliver(result.problems);
  }
  if (files.size() > most_files) {
    result.problems.push_back({.code = "too-many-files",
                               .message = std::to_string(files.size()) + " files",
                               .expected = "at most " + std::to_string(most_files) + " at once"});
  }
  if (options.strict) {
    for (text::Problem& problem : result.problems) {
      if (problem.severity == text::Severity::suspicion) {
        problem.severity = text::Severity::error;
      }
    }
  }
  return result;
}

RunLogResult read_run_log(std::string_view text, std::string path, const ReadOptions& options) {
  const LogText file{text, std::move(path), false};
  return read_run_logs(std::span(&file, 1), options);
}

}  // namespace bagsplit::runs
