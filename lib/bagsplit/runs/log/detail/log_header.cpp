#include "bagsplit/runs/log/detail/log_header.hpp"

#include <algorithm>

#include "bagsplit/runs/log/detail/directive.hpp"
#include "bagsplit/runs/log/detail/log_cells.hpp"
#include "bagsplit/runs/log/detail/log_columns.hpp"
#include "bagsplit/runs/log/file_columns.hpp"
#include "bagsplit/text/text.hpp"
#include "bagsplit/text/wording.hpp"

namespace bagsplit::runs::detail {

namespace {

std::vector<std::string_view> known_keys() {
  std::vector<std::string_view> keys(field_names.begin(), field_names.end());
  keys.emplace_back(date_order_key);
  return keys;
}

class PreambleReader {
 public:
  PreambleReader(RawLog& log, LogFile& file, const ReadOptions& options) : log_(log), file_(file), options_(options) {}

  Preamble read(text::CsvReader& reader) {
    text::CsvRecord line;
    while (reader.next_line(line)) {
      const std::string_view text = text::trim(line.text);
      if (line.fault != text::CsvFault::none) {
        file_.report.fault(line, options_.csv);
        if (!is_comment(text)) {
          return out_;
        }
      } else if (is_comment(text)) {
        read_comment(line);
      } else if (!text::names_delimiter(text) && text.find_first_not_of(",;\t ") != std::string_view::npos) {
        reader.set_delimiter(text::detect_delimiter(text));
        file_.delimiter = reader.delimiter();
        // The defaults are read only now: whether a comma may be a decimal mark depends on the delimiter.
        read_defaults();
        reader.seek(line.offset, line.line);
        reader.next(line);
        const HeaderFound found = read_header(log_, file_, reader, line, out_.given, options_);
        out_.usable = found.usable;
        out_.rows_usable = found.rows_usable;
        return out_;
      }
    }
    if (lines_seen_ == 0) {
      file_.report.on_file({.severity = text::Severity::suspicion,
                            .code = "empty-file",
                            .message = "the file is empty",
                            .expected = std::string(header_example)});
    } else {
      file_.report.on_file({.code = "missing-header",
                            .message = "there is no header line below the lines that begin with #",
                            .expected = std::string(header_example)});
    }
    return out_;
  }

 private:
  // A spreadsheet may have put quotes around such a line.
  static bool is_comment(std::string_view text) { return text.starts_with('#') || text.starts_with("\"#"); }

  void read_comment(const text::CsvRecord& line) {
    ++lines_seen_;
    const Directive found = split_directive(line.text);
    const std::string_view key = line.text.substr(found.key.begin, found.key.end - found.key.begin);
    if (!found.is_directive) {
      const auto words = known_keys();
      const std::string_view rest = text::trim(line.text.substr(std::min(found.key.end, line.text.size())));
      if (!rest.empty() &&
          std::any_of(words.begin(), words.end(), [&](auto w) { return text::equal_ignoring_case(w, key); }) &&
          rest.find(' ') == std::string_view::npos) {
        file_.report.at(line, found.key,
                        {.code = "missing-colon",
                         .message = "a colon is missing after the key " + text::in_quotes(key),
                         .expected = "# " + std::string(key) + ": " + std::string(rest),
                         .hint = "for a plain remark, begin with ##"},
                        false);
      }
      return;
    }
    const auto again = std::find_if(defaults_.begin(), defaults_.end(), [&](const Default& d) {
      return text::equal_ignoring_case(d.line.text.substr(d.key.begin, d.key.end - d.key.begin), key);
    });
    if (again != defaults_.end()) {
      file_.report.at(line, found.key,
                      {.code = "repeated-key",
                       .message = "the key " + text::in_quotes(key) + " stands twice",
                       .expected = "one value for the whole file (the first stands on line " +
                                   std::to_string(again->line.line) + ")",
                       .hint = "where it changes from row to row, make it a column"},
                      false);
      return;
    }
    defaults_.push_back({line, found.key, found.value});
  }

  void read_defaults() {
    // The order of dates first: a date may stand above it.
    for (const Default& d : defaults_) {
      const std::string_view value = text_of(d, d.value);
      if (text::equal_ignoring_case(text_of(d, d.key), date_order_key)) {
        if (const auto order = read_date_order(value)) {
          file_.dates = *order;
        } else {
          file_.report.at(d.line, d.value,
                          {.code = "unknown-word",
                           .message = "'dates' has no such word",
                           .expected = text::list_of(date_order_words)});
        }
      }
    }
    for (const Default& d : defaults_) {
      read_default(d);
    }
  }

  struct Default {
    text::CsvRecord line;
    text::ByteRange key;
    text::ByteRange value;
  };

  static std::string_view text_of(const Default& d, text::ByteRange range) {
    return d.line.text.substr(range.begin, range.end - range.begin);
  }

  void read_default(const Default& d) {
    const std::string_view key = text_of(d, d.key);
    const std::string_view value = text_of(d, d.value);
    if (text::equal_ignoring_case(key, date_order_key)) {
      return;
    }
    const Field field = field_of_name(key);
    if (field == Field::none && text::equal_ignoring_case(key.substr(0, 2), "x-")) {
      return;
    }
    if (field == Field::none) {
      const auto words = known_keys();
      const auto near = text::nearest(key, words);
      file_.report.at(d.line, d.key,
                      {.code = "unknown-key",
                       .message = "there is no key " + text::in_quotes(key),
                       .expected = text::list_of(words),
                       .hint = near ? "'" + std::string(*near) + "' may be meant"
                                    : std::string("for a plain remark, begin with ##")},
                      false);
      return;
    }
    if (value.empty()) {
      file_.report.at(d.line, d.key,
                      {.code = "missing-value",
                       .message = "the key " + text::in_quotes(key) + " has no value",
                       .expected = "# " + std::string(key) + ": value"},
                      false);
      return;
    }
    CellFault fault = read_field(field, value, log_, file_, out_.defaults);
    if (!fault.code.empty()) {
      file_.report.at(d.line, d.value,
                      {.code = std::string(fault.code),
                       .message = std::move(fault.message),
                       .expected = std::move(fault.expected),
                       .hint = std::move(fault.hint)});
    }
    if (fault.code.empty() && field == Field::base_distance) {
      if (auto doubt = unusual_base_distance(out_.defaults.base_m)) {
        file_.report.at(d.line, d.value, *std::move(doubt));
      }
    }
    out_.given.push_back(field);
  }

  RawLog& log_;
  LogFile& file_;
  const ReadOptions& options_;
  Preamble out_;
  std::vector<Default> defaults_;
  std::size_t lines_seen_ = 0;
};

}  // namespace

Preamble read_preamble(RawLog& log, LogFile& file, text::CsvReader& reader, const ReadOptions& options) {
  return PreambleReader(log, file, options).read(reader);
}

}  // namespace bagsplit::runs::detail
