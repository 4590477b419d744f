#include "bagsplit/gates/detail/gate_table.hpp"

#include <algorithm>

#include "bagsplit/runs/log/detail/directive.hpp"
#include "bagsplit/runs/log/file_report.hpp"
#include "bagsplit/runs/typed.hpp"
#include "bagsplit/text/text.hpp"

namespace bagsplit::gates::detail {

namespace {

using text::CsvFault;
using text::CsvRecord;
using text::equal_ignoring_case;
using text::trim;

constexpr std::size_t most_problems = 10'000;
constexpr std::size_t not_known = static_cast<std::size_t>(-1);

class Reading {
 public:
  Reading(std::string_view text, std::string_view path, const TableShape& shape, const TableReader& reader)
      : shape_(shape), reader_(reader), report_(std::string(path), most_problems), csv_(text), text_(text) {}

  void read(text::Problems& problems) {
    if (!report_.is_no_text(text_) && read_preamble()) {
      while (csv_.next(record_)) {
        if (record_.fault != CsvFault::none) {
          report_.fault(record_, {});
        } else if (record_.text.starts_with('#')) {
          report_.on_line(record_, {.severity = text::Severity::note,
                                    .code = "left-out-row",
                                    .message = "a line that begins with # is left out"});
        } else if (std::any_of(csv_.fields().begin(), csv_.fields().end(), [](auto f) { return !trim(f).empty(); })) {
          read_row();
        }
      }
    }
    report_.deliver(problems);
  }

 private:
  std::string example() const {
    std::string out = "a header line such as ";
    for (std::size_t k = 0; k < shape_.columns.size(); ++k) {
      out += (k == 0 ? "" : ",") + std::string(shape_.columns[k]);
    }
    return out;
  }

  bool read_preamble() {
    CsvRecord line;
    while (csv_.next_line(line)) {
      const std::string_view text = trim(line.text);
      if (line.fault != CsvFault::none) {
        report_.fault(line, {});
        return false;
      }
      if (text.starts_with('#') || text.starts_with("\"#")) {
        read_key(line);
      } else if (!text::names_delimiter(text) && text.find_first_not_of(",;\t ") != std::string_view::npos) {
        csv_.set_delimiter(text::detect_delimiter(text));
        csv_.seek(line.offset, line.line);
        csv_.next(record_);
        return read_header();
      }
    }
    report_.on_file({.code = "missing-header",
                     .message = "the " + std::string(shape_.what) + " has no header line",
                     .expected = example()});
    return false;
  }

  void read_key(const CsvRecord& line) {
    const auto found = runs::detail::split_directive(line.text);
    if (!found.is_directive) {
      return;
    }
    const std::string_view key = line.text.substr(found.key.begin, found.key.end - found.key.begin);
    const auto known =
        std::find_if(shape_.keys.begin(), shape_.keys.end(), [&](auto k) { return equal_ignoring_case(k, key); });
    if (known == shape_.keys.end()) {
      report_.at(line, found.key,
                 {.severity = text::Severity::note,
                  .code = "unknown-key",
                  .message = "'" + text::clipped(key) + "' is no key of a " + std::string(shape_.what) +
                             ": taken for a remark",
                  .expected = text::list_of(shape_.keys)});
      return;
    }
    const std::string_view value = trim(line.text.substr(found.value.begin, found.value.end - found.value.begin));
    Refusal refusal = value.empty()
                          ? Refusal{"missing-value", "the key '" + std::string(key) + "' has no value", {}, {}}
                          : reader_.key(*known, value);
    if (!refusal.message.empty()) {
      report_.at(line, value.empty() ? found.key : found.value,
                 {.code = std::move(refusal.code),
                  .message = std::move(refusal.message),
                  .expected = std::move(refusal.expected),
                  .hint = std::move(refusal.hint)});
    }
  }

  bool read_header() {
    const auto ranges = text::field_ranges(record_.text, csv_.delimiter());
    bool usable = record_.fault == CsvFault::none;
    for (std::size_t k = 0; k < csv_.fields().size(); ++k) {
      const std::string_view name = trim(csv_.fields()[k]);
      const auto known = std::find_if(shape_.columns.begin(), shape_.columns.end(),
                                      [&](auto c) { return equal_ignoring_case(c, name); });
      const std::size_t column =
          known == shape_.columns.end() ? not_known : static_cast<std::size_t>(known - shape_.columns.begin());
      if (column == not_known && !equal_ignoring_case(name.substr(0, 2), "x-")) {
        const auto near = text::nearest(name, shape_.columns);
        report_.at(record_, ranges[std::min(k, ranges.size() - 1)],
                   {.code = "unknown-column",
                    .message = "a " + std::string(shape_.what) + " has no column '" + text::clipped(name) + "'",
                    .expected = text::list_of(shape_.columns),
                    .hint = near ? "'" + std::string(*near) + "' may be meant" : ""});
        usable = false;
      } else if (column != not_known && std::find(columns_.begin(), columns_.end(), column) != columns_.end()) {
        report_.at(record_, ranges[std::min(k, ranges.size() - 1)],
                   {.code = "repeated-column", .message = "the column '" + std::string(name) + "' stands twice"});
        usable = false;
      }
      columns_.push_back(column);
    }
    for (std::size_t k = 0; k < shape_.required; ++k) {
      if (std::find(columns_.begin(), columns_.end(), k) == columns_.end()) {
        report_.on_line(record_, {.code = "missing-column",
                                  .message = "the column '" + std::string(shape_.columns[k]) + "' is missing",
                                  .expected = example()});
        usable = false;
      }
    }
    return usable;
  }

  void read_row() {
    if (csv_.fields().size() != columns_.size()) {
      report_.on_line(record_, {.code = "field-count",
                                .message = "this line has " + std::to_string(csv_.fields().size()) +
                                           " fields, the header " + std::to_string(columns_.size()),
                                .expected = "as many fields as columns"});
      return;
    }
    const auto ranges = text::field_ranges(record_.text, csv_.delimiter());
    bool good = true;
    for (std::size_t k = 0; k < columns_.size(); ++k) {
      const std::string_view text = trim(csv_.fields()[k]);
      if (columns_[k] == not_known || (text.empty() && columns_[k] >= shape_.required)) {
        continue;
      }
      const std::string name(shape_.columns[columns_[k]]);
      Refusal refusal = text.empty() ? Refusal{"missing-value", "'" + name + "' is empty", "a value", {}}
                                     : reader_.cell(columns_[k], text);
      if (!refusal.message.empty()) {
        report_.at(record_, ranges[std::min(k, ranges.size() - 1)],
                   {.code = std::move(refusal.code),
                    .message = std::move(refusal.message),
                    .expected = std::move(refusal.expected),
                    .hint = std::move(refusal.hint)});
        good = false;
      }
    }
    if (good) {
      reader_.row(record_);
    }
  }

  const TableShape& shape_;
  const TableReader& reader_;
  runs::FileReport report_;
  text::CsvReader csv_;
  std::string_view text_;
  CsvRecord record_;
  std::vector<std::size_t> columns_;
};

}  // namespace

std::string seconds_text(std::int64_t ns) {
  return runs::format_number(static_cast<double>(ns) / 1e9) + " s";
}

void read_table(std::string_view text, std::string_view path, const TableShape& shape, const TableReader& reader,
                text::Problems& problems) {
  Reading(text, path, shape, reader).read(problems);
}

}  // namespace bagsplit::gates::detail
