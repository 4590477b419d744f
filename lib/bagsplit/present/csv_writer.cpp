#include "bagsplit/present/csv_writer.hpp"

#include "bagsplit/present/number_text.hpp"

namespace bagsplit::present {

void CsvWriter::next_field() {
  if (!at_row_start_) {
    out_ += ',';
  }
  at_row_start_ = false;
}

CsvWriter& CsvWriter::text(std::string_view field) {
  next_field();
  const bool quote =
      field.find_first_of(",\"\r\n") != std::string_view::npos || field.starts_with(' ') || field.ends_with(' ');
  if (!quote) {
    out_ += field;
    return *this;
  }
  out_ += '"';
  for (const char c : field) {
    out_.append(c == '"' ? 2 : 1, c);
  }
  out_ += '"';
  return *this;
}

CsvWriter& CsvWriter::number(std::optional<double> value) {
  next_field();
  out_ += shortest(value);
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

}  // namespace bagsplit::present
