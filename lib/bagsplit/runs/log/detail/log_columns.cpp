#include "bagsplit/runs/log/detail/log_columns.hpp"

#include <algorithm>
#include <array>
#include <cmath>

#include "bagsplit/runs/log/detail/log_cells.hpp"
#include "bagsplit/runs/log/file_columns.hpp"
#include "bagsplit/runs/units.hpp"
#include "bagsplit/text/decimal_comma.hpp"
#include "bagsplit/text/text.hpp"
#include "bagsplit/text/wording.hpp"

namespace bagsplit::runs::detail {

namespace {

constexpr std::array own_roster_columns{std::string_view("bib"),       std::string_view("name"),
                                        std::string_view("sex"),       std::string_view("born"),
                                        std::string_view("height_cm"), std::string_view("mass_kg"),
                                        std::string_view("bats"),      std::string_view("sitting_height_cm")};

// Other words for the same thing, too far from ours to be found by their letters.
constexpr std::array<std::pair<std::string_view, std::string_view>, 25> other_words{
    {{"name", "player"},   {"id", "player"},     {"bib", "player"},    {"runner", "player"}, {"number", "player"},
     {"reaction", "move"}, {"comment", "note"},  {"comments", "note"}, {"remark", "note"},   {"remarks", "note"},
     {"watch", "timer"},   {"attempt", "trial"}, {"run", "trial"},     {"1st", "first"},     {"2nd", "second"},
     {"3rd", "third"},     {"1b", "first"},      {"2b", "second"},     {"3b", "third"},      {"location", "place"},
     {"venue", "place"},   {"session", "place"}, {"day", "date"},      {"status", "flag"},   {"stance", "posture"}}};

// "5 ft past first": the column a finish beyond the bag needs.
std::string past_bag_hint(std::string_view name) {
  const std::size_t at = text::lower(name).find("past");
  const auto past_m = at == std::string::npos ? std::nullopt : parse_length_m(text::trim(name.substr(0, at)));
  const auto bag = past_m ? bag_of_name(text::trim(name.substr(at + 4))) : std::nullopt;
  if (!bag) {
    return {};
  }
  const int bases = *bag == Bag::home ? 4 : static_cast<int>(*bag);
  const double feet = bases * 60.0 + *past_m / metres_per_foot;
  return "a finish beyond the bag is a distance from the start: with bags 60 ft apart " + std::string(name) + " is " +
         format_number(std::round(feet * 10.0) / 10.0) + "ft";
}

class HeaderReader {
 public:
  HeaderReader(RawLog& log, LogFile& file, const std::vector<Field>& given, const ReadOptions& options)
      : log_(log), file_(file), given_(given), options_(options) {}

  HeaderFound read(const text::CsvReader& reader, const text::CsvRecord& header) {
    if (header.fault != text::CsvFault::none) {
      file_.report.fault(header, options_.csv);
      return out_;
    }
    const auto ranges = text::field_ranges(header.text, file_.delimiter);
    const auto& names = reader.fields();
    if (is_roster(names)) {
      const bool in_folder = file_.from_folder;
      file_.report.on_line(
          header, {.severity = in_folder ? text::Severity::note : text::Severity::error,
                   .code = in_folder ? "ignored-file" : "roster-as-log",
                   .message = in_folder ? "passed over: a roster, not a run log" : "this is a roster, not a run log",
                   .expected = std::string(header_example),
                   .hint = "a roster is named beside the log, not as one"});
      return out_;
    }
    if (std::none_of(names.begin(), names.end(), [](std::string_view name) { return is_known(text::trim(name)); })) {
      file_.report.on_line(header, {.code = "missing-header",
                                    .message = "none of the column names is known",
                                    .expected = std::string(header_example),
                                    .hint = "the first line that does not begin with # must be the header"});
      return out_;
    }
    out_.usable = true;
    for (std::size_t k = 0; k < names.size(); ++k) {
      const std::string_view name = text::trim(names[k]);
      read_column(header, ranges[std::min(k, ranges.size() - 1)], name);
    }
    require_columns(header);
    return out_;
  }

 private:
  static bool is_known(std::string_view name) {
    return field_of_name(name) != Field::none || bag_of_name(name) || text::equal_ignoring_case(name, "move") ||
           parse_length_m(name);
  }

  static bool is_roster(const std::vector<std::string_view>& names) {
    bool has_player = false;
    bool has_own = false;
    for (const std::string_view raw : names) {
      const std::string_view name = text::trim(raw);
      has_player = has_player || text::equal_ignoring_case(name, "player");
      has_own = has_own || std::any_of(own_roster_columns.begin(), own_roster_columns.end(),
                                       [&](auto c) { return text::equal_ignoring_case(c, name); });
      if (text::equal_ignoring_case(name, "date") || text::equal_ignoring_case(name, "course") ||
          text::equal_ignoring_case(name, "trial")) {
        return false;
      }
    }
    return has_player && has_own;
  }

  void read_column(const text::CsvRecord& header, text::ByteRange range, std::string_view name) {
    Column column;
    if (name.empty()) {
      column.unnamed = true;
      file_.columns.push_back(column);  // a cell below it that is not empty is an error there
      return;
    }
    column.field = field_of_name(name);
    if (column.field == Field::none && text::equal_ignoring_case(name.substr(0, 2), "x-")) {
      column.field = Field::carried;
      column.name = log_.names.id(name);
    } else if (column.field == Field::none) {
      read_mark(header, range, name, column);
    }
    if (column.field != Field::none && column.field != Field::carried && repeats(column)) {
      file_.report.at(header, range,
                      {.code = "repeated-column",
                       .message = "the column " + text::in_quotes(name) + " stands twice",
                       .expected = "each column once"},
                      false);
      column = {};
    }
    if (column.field == Field::mark) {
      file_.mark_columns.push_back(static_cast<std::uint32_t>(file_.columns.size()));
    }
    file_.columns.push_back(column);
  }

  void read_mark(const text::CsvRecord& header, text::ByteRange range, std::string_view name, Column& column) {
    const auto number = log_.mark_number(name);
    if (!number) {
      unknown_column(header, range, name, parse_length_m(name).has_value());
      return;
    }
    column.field = Field::mark;
    column.mark = *number;
    column.name = log_.marks[*number].name;
  }

  void unknown_column(const text::CsvRecord& header, text::ByteRange range, std::string_view name, bool is_length) {
    std::vector<std::string_view> words(field_names.begin(), field_names.end());
    words.insert(words.end(), {"move", "first", "second", "third", "home"});
    const auto near = text::nearest(name, words);
    std::string hint = near ? "'" + std::string(*near) + "' may be meant" : std::string();
    const auto other = std::find_if(other_words.begin(), other_words.end(),
                                    [&](const auto& pair) { return text::equal_ignoring_case(pair.first, name); });
    if (other != other_words.end()) {
      hint = "'" + std::string(other->second) + "' may be meant";
    } else if (is_length) {
      hint = "a mark lies more than 0 and at most 10 km from the start";
    } else if (std::string past = past_bag_hint(name); !past.empty()) {
      hint = std::move(past);
    } else if (!near && parse_decimal(name, true)) {
      hint = "a distance needs its unit: " + std::string(name) + "m, " + std::string(name) + "yd or " +
             std::string(name) + "ft";
    }
    file_.report.at(
        header, range,
        {.code = "unknown-column",
         .message = "there is no column " + text::in_quotes(name),
         .expected = text::list_of(words, ",") + ", a distance such as 10yd, or a name of your own that begins with x-",
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

  // As a column, or as a key above the header.
  bool has(Field field) const {
    return std::any_of(file_.columns.begin(), file_.columns.end(), [&](const Column& c) { return c.field == field; }) ||
           std::find(given_.begin(), given_.end(), field) != given_.end();
  }

  void require_columns(const text::CsvRecord& header) {
    const auto all = log_columns();
    for (std::size_t k = 0; k < all.size(); ++k) {
      if (!all[k].required) {
        continue;
      }
      const auto field = static_cast<Field>(k);
      // A drill says its course; a relay in one row says its players and where they run.
      const bool is_said = has(Field::runners) ? field == Field::course || field == Field::player
                                               : field == Field::course && has(Field::drill);
      if (!has(field) && !is_said) {
        const std::string name(all[k].name);
        file_.report.on_line(header,
                             {.code = "missing-column",
                              .message = "the column '" + name + "' is missing",
                              .expected = "a column '" + name + "', or a line '# " + name + ": ...' above the header"});
        out_.rows_usable = false;
      }
    }
    if (file_.mark_columns.empty() && !file_.has_unknown_columns && !has(Field::heat) && !has(Field::runners)) {
      file_.report.on_line(header,
                           {.code = "missing-column",
                            .message = "there is no column with times",
                            .expected = "first, second, third, home, move, or a distance such as 10yd, 20m, 30ft"});
      out_.rows_usable = false;
    }
  }

  RawLog& log_;
  LogFile& file_;
  const std::vector<Field>& given_;
  const ReadOptions& options_;
  HeaderFound out_;
};

}  // namespace

HeaderFound read_header(RawLog& log, LogFile& file, const text::CsvReader& reader, const text::CsvRecord& header,
                        const std::vector<Field>& given, const ReadOptions& options) {
  return HeaderReader(log, file, given, options).read(reader, header);
}

}  // namespace bagsplit::runs::detail
