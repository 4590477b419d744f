#include "bagsplit/runs/log_header.hpp"

#include <algorithm>
#include <cmath>

#include "bagsplit/runs/log_cells.hpp"
#include "bagsplit/runs/text.hpp"
#include "bagsplit/runs/units.hpp"

namespace bagsplit::runs::detail {

namespace {

constexpr double longest_mark_m = 10'000.0;
constexpr std::array roster_columns{std::string_view("bib"),       std::string_view("name"),
                                    std::string_view("sex"),       std::string_view("born"),
                                    std::string_view("height_cm"), std::string_view("mass_kg"),
                                    std::string_view("bats"),      std::string_view("sitting_height_cm")};

// Other words for the same thing, too far from ours to be found by their letters.
constexpr std::array<std::pair<std::string_view, std::string_view>, 26> other_words{{
    {"name", "player"},     {"id", "player"},       {"bib", "player"},      {"runner", "player"},   {"number", "player"},
    {"reaction", "move"},   {"comment", "note"},    {"comments", "note"},   {"remark", "note"},     {"remarks", "note"},
    {"watch", "timer"},     {"attempt", "trial"},   {"run", "trial"},       {"1st", "first"},       {"2nd", "second"},
    {"3rd", "third"},       {"1b", "first"},        {"2b", "second"},       {"3b", "third"},        {"location", "place"},
    {"venue", "place"},     {"session", "place"},   {"drill", "course"},    {"day", "date"},        {"status", "flag"},
    {"stance", "posture"}}};

constexpr std::string_view header_example = "a header line such as date,player,course,trial,first,second,flag";

std::string quoted(std::string_view text) { return "'" + clipped(text) + "'"; }

bool is_word(std::string_view text) {
  return !text.empty() && std::all_of(text.begin(), text.end(), [](char c) {
    return (ascii_lower(c) >= 'a' && ascii_lower(c) <= 'z') || is_digit(c) || c == '-' || c == '_';
  });
}

std::vector<std::string_view> known_keys() {
  std::vector<std::string_view> keys(field_names.begin(), field_names.end());
  keys.emplace_back("dates");
  return keys;
}

class PreambleReader {
 public:
  PreambleReader(RawLog& log, LogFile& file, const ReadOptions& options) : log_(log), file_(file), options_(options) {}

  Preamble read(CsvReader& reader) {
    CsvRecord line;
    while (reader.next_line(line)) {
      const std::string_view text = trim(line.text);
      if (line.fault != CsvFault::none) {
        file_.report.fault(line, options_.csv);
        if (!is_comment(text)) {
          return out_;
        }
      } else if (is_comment(text)) {
        read_comment(line);
      } else if (text.find_first_not_of(",;\t ") != std::string_view::npos) {
        reader.set_delimiter(detect_delimiter(text));
        file_.delimiter = reader.delimiter();
        // The defaults are read only now: whether a comma may be a decimal mark depends on the delimiter.
        read_defaults();
        reader.seek(line.offset, line.line);
        reader.next(line);
        read_header(reader, line);
        return out_;
      }
    }
    if (lines_seen_ == 0) {
      file_.report.on_file({.severity = Severity::suspicion, .code = "empty-file", .message = "the file is empty",
                            .expected = std::string(header_example)});
    } else {
      file_.report.on_file({.code = "missing-header", .message = "there is no header line below the lines that begin with #",
                            .expected = std::string(header_example)});
    }
    return out_;
  }

 private:
  // A spreadsheet may have put quotes around such a line.
  static bool is_comment(std::string_view text) { return text.starts_with('#') || text.starts_with("\"#"); }

  void read_comment(const CsvRecord& line) {
    ++lines_seen_;
    const Directive found = split_directive(line.text);
    const std::string_view key = line.text.substr(found.key.begin, found.key.end - found.key.begin);
    if (!found.is_directive) {
      const auto words = known_keys();
      const std::string_view rest = trim(line.text.substr(std::min(found.key.end, line.text.size())));
      if (!rest.empty() && std::any_of(words.begin(), words.end(), [&](auto w) { return equal_ignoring_case(w, key); }) &&
          rest.find(' ') == std::string_view::npos) {
        file_.report.at(line, found.key,
                        {.code = "missing-colon", .message = "a colon is missing after the key " + quoted(key),
                         .expected = "# " + std::string(key) + ": " + std::string(rest),
                         .hint = "for a plain remark, begin with ##"},
                        false);
      }
      return;
    }
    const auto again = std::find_if(defaults_.begin(), defaults_.end(), [&](const Default& d) {
      return equal_ignoring_case(d.line.text.substr(d.key.begin, d.key.end - d.key.begin), key);
    });
    if (again != defaults_.end()) {
      file_.report.at(line, found.key,
                      {.code = "repeated-key", .message = "the key " + quoted(key) + " stands twice",
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
      if (equal_ignoring_case(text_of(d, d.key), "dates")) {
        if (equal_ignoring_case(value, "dmy")) {
          file_.dates = DateOrder::dmy;
        } else if (equal_ignoring_case(value, "mdy")) {
          file_.dates = DateOrder::mdy;
        } else if (!equal_ignoring_case(value, "iso")) {
          file_.report.at(d.line, d.value,
                          {.code = "unknown-word", .message = "'dates' has no such word", .expected = "iso, dmy or mdy"});
        }
      }
    }
    for (const Default& d : defaults_) {
      read_default(d);
    }
  }

  struct Default {
    CsvRecord line;
    ByteRange key;
    ByteRange value;
  };

  static std::string_view text_of(const Default& d, ByteRange range) {
    return d.line.text.substr(range.begin, range.end - range.begin);
  }

  void read_default(const Default& d) {
    const std::string_view key = text_of(d, d.key);
    const std::string_view value = text_of(d, d.value);
    if (equal_ignoring_case(key, "dates")) {
      return;
    }
    const Field field = field_of_name(key);
    if (field == Field::none && equal_ignoring_case(key.substr(0, 2), "x-")) {
      return;
    }
    if (field == Field::none) {
      const auto words = known_keys();
      const auto near = nearest(key, words);
      file_.report.at(d.line, d.key,
                      {.code = "unknown-key", .message = "there is no key " + quoted(key), .expected = list_of(words),
                       .hint = near ? "'" + std::string(*near) + "' may be meant"
                                    : std::string("for a plain remark, begin with ##")},
                      false);
      return;
    }
    if (value.empty()) {
      file_.report.at(d.line, d.key,
                      {.code = "missing-value", .message = "the key " + quoted(key) + " has no value",
                       .expected = "# " + std::string(key) + ": value"},
                      false);
      return;
    }
    CellFault fault = read_field(field, value, log_, file_, out_.defaults);
    if (!fault.code.empty()) {
      file_.report.at(d.line, d.value,
                      {.code = std::string(fault.code), .message = std::move(fault.message),
                       .expected = std::move(fault.expected), .hint = std::move(fault.hint)});
    }
    if (fault.code.empty() && field == Field::base_distance) {
      if (auto doubt = unusual_base_distance(out_.defaults.base_m)) {
        file_.report.at(d.line, d.value, *std::move(doubt));
      }
    }
    out_.given.push_back(field);
  }

  void read_header(const CsvReader& reader, const CsvRecord& header) {
    if (header.fault != CsvFault::none) {
      file_.report.fault(header, options_.csv);
      return;
    }
    const auto ranges = field_ranges(header.text, file_.delimiter);
    const auto& names = reader.fields();
    if (is_roster(names)) {
      const bool in_folder = file_.from_folder;
      file_.report.on_line(header, {.severity = in_folder ? Severity::note : Severity::error,
                                    .code = in_folder ? "ignored-file" : "roster-as-log",
                                    .message = in_folder ? "passed over: a roster, not a run log"
                                                         : "this is a roster, not a run log",
                                    .expected = std::string(header_example),
                                    .hint = "a roster is given by --roster"});
      return;
    }
    if (std::none_of(names.begin(), names.end(), [](std::string_view name) { return is_known(trim(name)); })) {
      file_.report.on_line(header, {.code = "missing-header", .message = "none of the column names is known",
                                    .expected = std::string(header_example),
                                    .hint = "the first line that does not begin with # must be the header"});
      return;
    }
    out_.usable = true;
    for (std::size_t k = 0; k < names.size(); ++k) {
      const std::string_view name = trim(names[k]);
      read_column(header, ranges[std::min(k, ranges.size() - 1)], name);
    }
    require_columns(header);
  }

  static bool is_known(std::string_view name) {
    return field_of_name(name) != Field::none || bag_of_name(name) || equal_ignoring_case(name, "move") ||
           parse_length_m(name);
  }

  static bool is_roster(const std::vector<std::string_view>& names) {
    bool has_player = false;
    bool has_own = false;
    for (const std::string_view raw : names) {
      const std::string_view name = trim(raw);
      has_player = has_player || equal_ignoring_case(name, "player");
      has_own = has_own || std::any_of(roster_columns.begin(), roster_columns.end(),
                                       [&](auto c) { return equal_ignoring_case(c, name); });
      if (equal_ignoring_case(name, "date") || equal_ignoring_case(name, "course") || equal_ignoring_case(name, "trial")) {
        return false;
      }
    }
    return has_player && has_own;
  }

  void read_column(const CsvRecord& header, ByteRange range, std::string_view name) {
    Column column;
    if (name.empty()) {
      column.unnamed = true;
      file_.columns.push_back(column);  // a cell below it that is not empty is an error there
      return;
    }
    column.field = field_of_name(name);
    if (column.field == Field::none && equal_ignoring_case(name.substr(0, 2), "x-")) {
      column.field = Field::carried;
      column.name = log_.names.id(name);
    } else if (column.field == Field::none) {
      read_mark(header, range, name, column);
    }
    if (column.field != Field::none && column.field != Field::carried && repeats(column)) {
      file_.report.at(header, range,
                      {.code = "repeated-column", .message = "the column " + quoted(name) + " stands twice",
                       .expected = "each column once"},
                      false);
      column = {};
    }
    if (column.field == Field::mark) {
      file_.mark_columns.push_back(static_cast<std::uint32_t>(file_.columns.size()));
    }
    file_.columns.push_back(column);
  }

  void read_mark(const CsvRecord& header, ByteRange range, std::string_view name, Column& column) {
    std::string canonical = lower(name);
    std::erase(canonical, ' ');
    MarkInfo mark;
    mark.is_move = canonical == "move";
    mark.bag = bag_of_name(canonical);
    if (!mark.is_move && !mark.bag) {
      const auto length = parse_length_m(canonical);
      if (!length || *length <= 0.0 || *length > longest_mark_m) {
        unknown_column(header, range, name, length.has_value());
        return;
      }
      mark.distance_m = *length;
    }
    const auto [at, is_new] = log_.mark_by_name.try_emplace(canonical, static_cast<std::uint16_t>(log_.marks.size()));
    if (is_new) {
      mark.name = log_.names.id(canonical);
      log_.marks.push_back(mark);
    }
    column.field = Field::mark;
    column.mark = at->second;
    column.name = log_.marks[at->second].name;
  }

  void unknown_column(const CsvRecord& header, ByteRange range, std::string_view name, bool is_length) {
    std::vector<std::string_view> words(field_names.begin(), field_names.end());
    words.insert(words.end(), {"move", "first", "second", "third", "home"});
    const auto near = nearest(name, words);
    std::string hint = near ? "'" + std::string(*near) + "' may be meant" : std::string();
    const auto other = std::find_if(other_words.begin(), other_words.end(),
                                    [&](const auto& pair) { return equal_ignoring_case(pair.first, name); });
    if (other != other_words.end()) {
      hint = "'" + std::string(other->second) + "' may be meant";
    } else if (is_length) {
      hint = "a mark lies more than 0 and at most 10 km from the start";
    } else if (!near && parse_decimal(name, true)) {
      hint = "a distance needs its unit: " + std::string(name) + "m, " + std::string(name) + "yd or " + std::string(name) + "ft";
    }
    file_.report.at(header, range,
                    {.code = "unknown-column", .message = "there is no column " + quoted(name),
                     .expected = list_of(words, ",") + ", a distance such as 10yd, or a name of your own that begins with x-",
                     .hint = std::move(hint)},
                    false);
    file_.has_unknown_columns = true;
  }

  bool repeats(const Column& column) const {
    return std::any_of(file_.columns.begin(), file_.columns.end(), [&](const Column& other) {
      if (other.field != column.field) {
        return false;
      }
      if (column.field != Field::mark) {
        return true;
      }
      const MarkInfo& a = log_.marks[other.mark];
      const MarkInfo& b = log_.marks[column.mark];
      return other.mark == column.mark ||
             (!a.bag && !b.bag && !a.is_move && !b.is_move && std::fabs(a.distance_m - b.distance_m) < 1e-9);
    });
  }

  void require_columns(const CsvRecord& header) {
    for (const Field field : {Field::date, Field::player, Field::course}) {
      const bool is_column =
          std::any_of(file_.columns.begin(), file_.columns.end(), [&](const Column& c) { return c.field == field; });
      const bool is_key = std::find(out_.given.begin(), out_.given.end(), field) != out_.given.end();
      if (!is_column && !is_key) {
        const std::string name(field_names.at(static_cast<std::size_t>(field)));
        file_.report.on_line(header, {.code = "missing-column", .message = "the column '" + name + "' is missing",
                                      .expected = "a column '" + name + "', or a line '# " + name + ": ...' above the header"});
        out_.rows_usable = false;
      }
    }
    if (file_.mark_columns.empty() && !file_.has_unknown_columns) {
      file_.report.on_line(header, {.code = "missing-column", .message = "there is no column with times",
                                    .expected = "first, second, third, home, move, or a distance such as 10yd, 20m, 30ft"});
      out_.rows_usable = false;
    }
  }

  RawLog& log_;
  LogFile& file_;
  const ReadOptions& options_;
  Preamble out_;
  std::vector<Default> defaults_;
  std::size_t lines_seen_ = 0;
};

}  // namespace

Directive split_directive(std::string_view line) {
  Directive out;
  std::size_t begin = line.find('#');
  if (begin == std::string_view::npos) {
    return out;
  }
  // Spreadsheets pad such a line with delimiters, and may put quotes around it.
  std::size_t end = line.size();
  while (end > begin && (line[end - 1] == ',' || line[end - 1] == ';' || line[end - 1] == '\t' || line[end - 1] == ' ')) {
    --end;
  }
  if (begin > 0 && line[begin - 1] == '"' && end > begin && line[end - 1] == '"') {
    --end;
  }
  ++begin;
  const auto skip_blanks = [&](std::size_t at) {
    while (at < end && (line[at] == ' ' || line[at] == '\t')) {
      ++at;
    }
    return at;
  };
  begin = skip_blanks(begin);
  std::size_t key_end = begin;
  while (key_end < end && is_word(line.substr(key_end, 1))) {
    ++key_end;
  }
  out.key = {begin, key_end};
  const std::size_t colon = skip_blanks(key_end);
  if (key_end > begin && colon < end && line[colon] == ':') {
    out.is_directive = true;
    out.value = {skip_blanks(colon + 1), end};
    out.value.begin = std::min(out.value.begin, end);
    while (out.value.end > out.value.begin && (line[out.value.end - 1] == ' ' || line[out.value.end - 1] == '\t')) {
      --out.value.end;
    }
  }
  return out;
}

Preamble read_preamble(RawLog& log, LogFile& file, CsvReader& reader, const ReadOptions& options) {
  return PreambleReader(log, file, options).read(reader);
}

}  // namespace bagsplit::runs::detail
