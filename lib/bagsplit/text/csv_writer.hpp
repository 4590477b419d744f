#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>

namespace bagsplit::text {

/// Writes CSV as RFC 4180 has it, but with bare line feeds, which spreadsheets and command-line tools both read: a
/// field with a comma, a quote, a line end, or a blank at either end is put in quotes, quotes in it are doubled.
/// Numbers to six significant digits in their shortest form: more than any of them is sure to, and JSON holds all
/// digits. A text that looks like a decimal number (an id such as 3.1) stands in quotes, one that a spreadsheet would
/// work out (text::is_formula()) behind an apostrophe.
///
///     CsvWriter csv;
///     csv.text("player").text("time_s").end_row();
///     csv.text("12").number(4.05).end_row();
class CsvWriter {
 public:
  CsvWriter& text(std::string_view field);
  /// Six significant digits; an empty field where there is no value.  @throws std::domain_error when it is not finite.
  CsvWriter& number(std::optional<double> value);
  CsvWriter& count(std::uint64_t value);
  CsvWriter& empty() { return text(""); }
  void end_row();

  /// What was written so far.
  const std::string& str() const { return out_; }
  std::string take() { return std::move(out_); }

 private:
  void next_field();

  std::string out_;
  bool at_row_start_ = true;
};

/// What CsvWriter wrote, as spreadsheets of countries with a decimal comma open it: semicolons between the fields,
/// commas in numbers. Fields in quotes are texts and stay.
std::string with_semicolons(std::string_view csv);

}  // namespace bagsplit::text
