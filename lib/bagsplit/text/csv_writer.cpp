#include "bagsplit/text/csv_writer.hpp"

#include <algorithm>
#include <array>
#include <cmath>

#include "bagsplit/text/csv.hpp"
#include "bagsplit/text/number_chars.hpp"
#include "bagsplit/text/number_text.hpp"

namespace bagsplit::text {

namespace {

constexpr int significant_digits = 6;

double to_significant(double value) {
  std::array<char, 40> buffer{};
  const auto [end, error] =
      write_scientific(buffer.data(), buffer.data() + buffer.size(), value, significant_digits - 1);
  double rounded = value;
  if (error == std::errc{}) {
    read_number(buffer.data(), end, rounded);
  }
  return rounded;
}

// A number with a point in it, as number() may write it.
bool is_decimal(std::string_view field) {
  double value = 0.0;
  const auto [end, error] = read_number(field.data(), field.data() + field.size(), value);
  return error == std::errc{} && end == field.data() + field.size() && field.find('.') != std::string_view::npos;
}

}  // namespace

void CsvWriter::next_field() {
  if (!at_row_start_) {
    out_ += ',';
  }
  at_row_start_ = false;
}

CsvWriter& CsvWriter::text(std::string_view field) {
  next_field();
  const bool quote = field.find_first_of(",\"\r\n") != std::string_view::npos || field.starts_with(' ') ||
                     field.ends_with(' ') || is_decimal(field);
  const std::string_view guard = text::is_formula(field) ? "'" : "";
  if (!quote) {
    out_.append(guard).append(field);
    return *this;
  }
  out_.append("\"").append(guard);
  for (const char c : field) {
    out_.append(c == '"' ? 2 : 1, c);
  }
  out_ += '"';
  return *this;
}

CsvWriter& CsvWriter::number(std::optional<double> value) {
  next_field();
  out_ += shortest(value && std::isfinite(*value) ? std::optional(to_significant(*value)) : value);
  return *this;
}

CsvWriter& CsvWriter::count(std::uint64_t value) {
  next_field();
  out_ += std::to_string(value);
  return *this;
}

void CsvWriter::end_row() {
  out_ += '\n';
  at_row_start_ = true;
}

std::string with_semicolons(std::string_view csv) {
  std::string out;
  out.reserve(csv.size());
  while (!csv.empty()) {
    std::size_t end = 0;
    if (csv.front() == '"') {
      end = 1;
      while (end < csv.size() && (csv[end] != '"' || (end + 1 < csv.size() && csv[end + 1] == '"'))) {
        end += csv[end] == '"' ? 2U : 1U;
      }
      end = std::min(end + 1, csv.size());
      out += csv.substr(0, end);
    } else {
      end = std::min(csv.find_first_of(",\n"), csv.size());
      std::string field(csv.substr(0, end));
      const bool quote = field.find(';') != std::string::npos;
      if (is_decimal(field)) {
        std::replace(field.begin(), field.end(), '.', ',');
      }
      out += quote ? '"' + field + '"' : field;
    }
    if (end < csv.size()) {
      out += csv[end] == ',' ? ';' : csv[end];
    }
    csv.remove_prefix(std::min(end + 1, csv.size()));
  }
  return out;
}

}  // namespace bagsplit::text
