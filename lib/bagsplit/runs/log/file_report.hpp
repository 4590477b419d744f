#pragma once

#include <cstddef>
#include <string>
#include <string_view>

#include "bagsplit/text/csv.hpp"
#include "bagsplit/text/problem.hpp"

/// Problems of one CSV file: turns byte ranges of records into the lines and columns people see.
namespace bagsplit::runs {

class FileReport {
 public:
  /// @param most  problems kept; a file that is all wrong is told so once more, with the number left out.
  FileReport(std::string path, std::size_t most) : path_(std::move(path)), most_(most) {}

  /// A problem at bytes [begin, end) of a record. `problem` brings severity, code and words; the place is filled in
  /// here, and `read` with the bytes where it is empty and `quote_read` is true.
  void at(const text::CsvRecord& record, text::ByteRange bytes, text::Problem problem, bool quote_read = true);
  /// The same problem with its place, not reported.
  text::Problem placed(const text::CsvRecord& record, text::ByteRange bytes, text::Problem problem,
                       bool quote_read = true) const;
  /// A problem of a whole line.
  void on_line(const text::CsvRecord& record, text::Problem problem);
  /// A problem of the file as a whole.
  void on_file(text::Problem problem);
  /// Whether the text is something else than rows of UTF-8: a workbook, a packed file, UTF-16. Reported if it is.
  bool is_no_text(std::string_view text);
  /// The fault of a record as a problem.
  void fault(const text::CsvRecord& record, const text::CsvLimits& limits);

  /// Moves the problems out, in order of line and column, the file's own last; with the count of those left out.
  void deliver(text::Problems& problems);

  /// Whether a problem would only be counted; it is counted then. For saving the work of finding its place.
  bool leaves_out(const text::Problem& problem) { return !has_room(problem); }

  const std::string& path() const { return path_; }

 private:
  bool has_room(const text::Problem& problem);

  std::string path_;
  std::size_t most_;
  text::Problems found_;
  std::size_t left_out_ = 0;
  bool left_out_errors_ = false;
};

}  // namespace bagsplit::runs
