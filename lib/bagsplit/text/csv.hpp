#pragma once

#include <cstddef>
#include <cstdint>
#include <string>
#include <string_view>
#include <vector>

/// Comma-separated text (RFC 4180) out of one buffer in memory, as string_views: nothing is copied but fields with
/// doubled quotes.
///
/// Lines end in LF, CRLF or CR. Fields are parted by a comma, a semicolon or a tab; a field in double quotes may hold
/// any of these, line ends, and doubled quotes. A byte-order mark is passed over. Whatever breaks these rules is a
/// `CsvFault` of its record; reading goes on with the next line.
namespace bagsplit::text {

struct CsvLimits {
  std::size_t max_file_bytes = 0xFFFFFFFFU;  ///< offsets are kept in 32 bits
  std::size_t max_record_bytes = 65'536;     ///< of one record, line ends inside quotes included
  std::size_t max_columns = 1'000;
};

enum class CsvFault : std::uint8_t {
  none,
  unclosed_quote,    ///< a quote is opened and not closed on its line or, within max_record_bytes, on a later one
  stray_quote,       ///< a quote inside an unquoted field, or text between a closing quote and the delimiter
  too_long,          ///< longer than max_record_bytes
  too_many_columns,  ///< more than max_columns
  nul_byte,
  not_utf8,
};

/// One record: a line, or several where a quoted field holds line ends.
struct CsvRecord {
  std::string_view text;   ///< without its line end
  std::size_t offset = 0;  ///< of its first byte in the whole text
  std::size_t line = 0;    ///< of its first line, from 1
  CsvFault fault = CsvFault::none;
  std::size_t fault_at = 0;  ///< byte in `text` where the fault lies
};

class CsvReader {
 public:
  /// @param text  must outlive the reader. Only the first max_file_bytes are read; the caller refuses a longer one.
  /// Cost: three scans of the text for quotes, carriage returns and bytes beyond ASCII, at memory speed.
  explicit CsvReader(std::string_view text, const CsvLimits& limits = {});

  char delimiter() const { return delimiter_; }
  void set_delimiter(char delimiter) { delimiter_ = delimiter; }

  /// The next physical line, without splitting it; false at the end. For what stands before the header.
  bool next_line(CsvRecord& line);
  /// The next record and its fields; false at the end.
  bool next(CsvRecord& record);
  /// The fields of the last record, unquoted. Valid until the next call; empty after a fault.
  const std::vector<std::string_view>& fields() const { return fields_; }

  /// Goes back to a record seen before: the next call of next() reads it again.
  void seek(std::size_t offset, std::size_t line);

  /// An upper bound on the records left, for reserving memory.
  std::size_t lines_left() const;

 private:
  std::size_t line_end(std::size_t from) const;      // offset of the line's end, before CR and LF
  std::size_t after_line_end(std::size_t at) const;  // offset of the next line's first byte
  bool check_bytes(CsvRecord& record) const;
  bool split_plain(std::string_view record);
  std::size_t split_quoted(CsvRecord& record);

  std::string_view text_;
  CsvLimits limits_;
  std::vector<std::string_view> fields_;
  std::string unquoted_;  // fields of the last record that had doubled quotes; never reallocated while in use
  std::size_t at_ = 0;
  std::size_t line_ = 1;
  char delimiter_ = ',';
  bool has_quotes_ = false;
  bool has_apostrophes_ = false;
  bool has_lone_cr_ = false;  // a CR that no LF follows: it ends a line, too
  bool clean_ = true;         // UTF-8 without NUL throughout
};

/// The delimiter of a header line: whichever of comma, semicolon and tab stands most often outside quotes; comma when
/// none does.
char detect_delimiter(std::string_view header);

/// Whether a line is `sep=;` or alike, by which some spreadsheets name the delimiter; the header tells it as well.
bool names_delimiter(std::string_view line);

struct ByteRange {
  std::size_t begin = 0;
  std::size_t end = 0;
};

/// Where the fields of a record lie in its text, quotes included and spaces around them left out. For pointing at one;
/// slower than reading. A faulty record is split as far as it goes.
std::vector<ByteRange> field_ranges(std::string_view record, char delimiter);

/// Whether a spreadsheet would work the text out as a formula: it begins with = + - @ or a tab or line end, apostrophes
/// before them passed over, and is no number. Such a field is written with an apostrophe before it, which CsvReader
/// takes away again: what was written is what is read.
bool is_formula(std::string_view field);

/// Appends a field, in quotes where it needs them: delimiter, quote or line end inside, space at an end, `#` at the
/// start; with an apostrophe before what is_formula().
void append_csv_field(std::string& out, std::string_view field, char delimiter = ',');

/// Appends the line '# key: value' of a run log; nothing where there is no value. In quotes where a spreadsheet would
/// cut it into cells and one of them is_formula().
void append_directive(std::string& out, std::string_view key, std::string_view value);

}  // namespace bagsplit::text
