#include "bagsplit/runs/log/file_report.hpp"

#include <algorithm>
#include <array>
#include <iterator>

#include "bagsplit/text/letters.hpp"
#include "bagsplit/text/text.hpp"

namespace bagsplit::runs {

namespace {

constexpr std::size_t longest_line_shown = 2'000;  // bytes; a longer one would repeat itself in every problem

bool starts_new_line(std::string_view text, std::size_t k) {
  return text[k] == '\n' || (text[k] == '\r' && (k + 1 >= text.size() || text[k + 1] != '\n'));
}

// What a text begins with that is no CSV in UTF-8, and what that is.
struct Beginning {
  std::string_view bytes;
  std::string_view what;
};
constexpr std::string_view workbook = "a spreadsheet's workbook or another packed file";
constexpr std::string_view utf_16 = "text in UTF-16";
constexpr std::array<Beginning, 5> beginnings{{{"PK\x03\x04", workbook},
                                               {"\xD0\xCF\x11\xE0", workbook},
                                               {"%PDF-", "a page for the printer"},
                                               {"\xFF\xFE", utf_16},
                                               {"\xFE\xFF", utf_16}}};

std::string nul_hint(std::string_view from_first) {
  const std::size_t other = from_first.find_first_not_of('\0');
  return other == std::string_view::npos ? std::to_string(from_first.size()) +
                                               " of them to the end of the line: the device may have been cut off " +
                                               "while the file was written. Delete them, and see which rows are missing"
                                         : "the file may be damaged";
}

}  // namespace

bool FileReport::is_no_text(std::string_view text) {
  const auto* const found =
      std::find_if(beginnings.begin(), beginnings.end(), [&](const Beginning& b) { return text.starts_with(b.bytes); });
  const bool pairs = text.size() >= 4 && (text[0] == '\0') != (text[1] == '\0') &&
                     (text[0] == '\0') == (text[2] == '\0') && (text[1] == '\0') == (text[3] == '\0');
  if (found == beginnings.end() && !pairs) {
    return false;
  }
  on_file({.code = "not-text",
           .message = "this is " + std::string(pairs ? utf_16 : found->what) + ", not CSV in UTF-8",
           .expected = "plain text in UTF-8",
           .hint = "save it as CSV in UTF-8 from the program that wrote it"});
  return true;
}

bool FileReport::has_room(const text::Problem& problem) {
  if (found_.size() < most_) {
    return true;
  }
  ++left_out_;
  left_out_errors_ = left_out_errors_ || problem.severity == text::Severity::error;
  return false;
}

void FileReport::at(const text::CsvRecord& record, text::ByteRange bytes, text::Problem problem, bool quote_read) {
  if (has_room(problem)) {
    found_.push_back(placed(record, bytes, std::move(problem), quote_read));
  }
}

text::Problem FileReport::placed(const text::CsvRecord& record, text::ByteRange bytes, text::Problem problem,
                                 bool quote_read) const {
  const std::string_view text = record.text;
  bytes.begin = std::min(bytes.begin, text.size());
  bytes.end = std::clamp(bytes.end, bytes.begin, text.size());
  std::size_t line_start = 0;
  problem.line = record.line;
  for (std::size_t k = 0; k < bytes.begin; ++k) {
    if (starts_new_line(text, k)) {
      ++problem.line;
      line_start = k + 1;
    }
  }
  const std::string_view from_start = text.substr(line_start);
  const std::string_view line = from_start.substr(0, from_start.find_first_of("\r\n"));
  const std::size_t end = std::min(bytes.end, line_start + line.size());
  problem.path = path_;
  problem.column = text::count_characters(text.substr(line_start, bytes.begin - line_start)) + 1;
  problem.length = end > bytes.begin ? text::count_characters(text.substr(bytes.begin, end - bytes.begin)) : 0;
  if (quote_read && problem.read.empty()) {
    problem.read = text::clipped(text.substr(bytes.begin, bytes.end - bytes.begin));
  }
  if (line.size() <= longest_line_shown) {
    problem.source_line = std::string(line);
  }
  if (problem.severity == text::Severity::error &&
      text::has_unseen(text.substr(bytes.begin, bytes.end - bytes.begin))) {
    problem.hint = "a no-break space, or one that shows nothing, stands here: delete it, or type the cell again";
  }
  return problem;
}

void FileReport::on_line(const text::CsvRecord& record, text::Problem problem) {
  if (!has_room(problem)) {
    return;
  }
  const std::string_view line = record.text.substr(0, record.text.find_first_of("\r\n"));
  problem.path = path_;
  problem.line = record.line;
  if (line.size() <= longest_line_shown) {
    problem.source_line = std::string(line);
  }
  found_.push_back(std::move(problem));
}

void FileReport::on_file(text::Problem problem) {
  problem.path = path_;
  if (has_room(problem)) {
    found_.push_back(std::move(problem));
  }
}

void FileReport::fault(const text::CsvRecord& record, const text::CsvLimits& limits) {
  const bool only_nuls = record.text.find_first_not_of('\0') == std::string_view::npos;
  const std::size_t fault_at = only_nuls ? 0 : record.fault_at;
  const text::ByteRange byte{fault_at, fault_at + 1};
  switch (only_nuls && record.fault != text::CsvFault::none ? text::CsvFault::nul_byte : record.fault) {
    case text::CsvFault::none:
      return;
    case text::CsvFault::unclosed_quote:
      at(record, byte,
         {.code = "unclosed-quote",
          .message = "a quote is opened and never closed",
          .expected = "a closing quote on this line, or within " + std::to_string(limits.max_record_bytes) + " bytes",
          .hint = "inside quotes, a quote is written twice"},
         false);
      return;
    case text::CsvFault::stray_quote:
      at(record, byte,
         {.code = "stray-quote",
          .message = "a quote stands where none may",
          .expected = "quotes around the whole field, with quotes inside it doubled: \"5\"\" of rain\""},
         false);
      return;
    case text::CsvFault::too_long:
      on_line(record, {.code = "line-too-long",
                       .message = "a line of " + std::to_string(record.text.size()) + " bytes",
                       .expected = "at most " + std::to_string(limits.max_record_bytes) + " bytes",
                       .hint = "is this a run log at all, and are its lines ended?"});
      return;
    case text::CsvFault::too_many_columns:
      on_line(record, {.code = "too-many-columns",
                       .message = "too many fields on one line",
                       .expected = "at most " + std::to_string(limits.max_columns)});
      return;
    case text::CsvFault::nul_byte:
      at(record, byte,
         {.code = "nul-byte",
          .message = "a NUL byte",
          .expected = "plain text in UTF-8",
          .hint = nul_hint(record.text.substr(fault_at))},
         false);
      return;
    case text::CsvFault::not_utf8:
      at(record, byte,
         {.code = "not-utf8",
          .message = "a byte that is not UTF-8",
          .expected = "text in UTF-8",
          .hint = "the file may be saved in an older encoding: save it as CSV in UTF-8"},
         false);
      return;
  }
}

void FileReport::deliver(text::Problems& problems) {
  std::stable_sort(found_.begin(), found_.end(), [](const text::Problem& a, const text::Problem& b) {
    const auto key = [](const text::Problem& p) { return std::pair(p.line == 0 ? std::size_t(-1) : p.line, p.column); };
    return key(a) < key(b);
  });
  std::move(found_.begin(), found_.end(), std::back_inserter(problems));
  if (left_out_ > 0) {
    problems.push_back({.severity = left_out_errors_ ? text::Severity::error : text::Severity::suspicion,
                        .code = "too-many-problems",
                        .path = path_,
                        .message = std::to_string(left_out_) + " more problems are not listed",
                        .expected = "at most " + std::to_string(most_) + " in one file",
                        .hint = "mend those above and check again"});
  }
  found_.clear();
  left_out_ = 0;
}

}  // namespace bagsplit::runs
