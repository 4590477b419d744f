#include "bagsplit/runs/roster.hpp"

#include <algorithm>
#include <array>
#include <map>

#include "bagsplit/runs/file_report.hpp"
#include "bagsplit/runs/log_header.hpp"
#include "bagsplit/runs/text.hpp"
#include "bagsplit/runs/typed.hpp"

namespace bagsplit::runs {

namespace {

enum class RosterField : std::uint8_t { player, bib, name, sex, born, height, mass, sitting_height, bats, team, other, unnamed };

constexpr std::array column_names{std::string_view("player"),    std::string_view("bib"),     std::string_view("name"),
                                  std::string_view("sex"),       std::string_view("born"),    std::string_view("height_cm"),
                                  std::string_view("mass_kg"),   std::string_view("sitting_height_cm"),
                                  std::string_view("bats"),      std::string_view("team")};
constexpr std::size_t longest_text = 200;
constexpr std::string_view header_example = "a header line such as player,sex,born";

// Bounds beyond which a number is refused, and beyond which it is only doubted.
struct Bounds {
  double lowest, low, high, highest;
};
constexpr Bounds height_cm{50.0, 80.0, 220.0, 260.0};
constexpr Bounds mass_kg{5.0, 10.0, 150.0, 300.0};
constexpr Bounds sitting_height_cm{30.0, 45.0, 115.0, 140.0};
// Sitting height over standing height runs from about 0.55 in small children to 0.51 in adolescence. Common practice, no source.
constexpr double least_sitting_share = 0.45;
constexpr double most_sitting_share = 0.60;
constexpr double youngest_years = 3.0;
constexpr double oldest_years = 90.0;

class RosterReader {
 public:
  RosterReader(std::string_view text, std::string path, const RosterOptions& options)
      : size_(text.size()), report_(std::move(path), options.max_problems), options_(options), csv_(text, options.csv) {}

  RosterResult read() {
    if (size_ > options_.csv.max_file_bytes) {
      report_.on_file({.code = "file-too-large", .message = "a file of " + std::to_string(size_) + " bytes",
                       .expected = "at most " + std::to_string(options_.csv.max_file_bytes) + " bytes"});
    } else if (read_preamble()) {
      while (csv_.next(record_)) {
        if (record_.fault != CsvFault::none) {
          report_.fault(record_, options_.csv);
        } else if (record_.text.starts_with('#')) {
          report_.on_line(record_, {.severity = Severity::suspicion, .code = "left-out-row",
                                    .message = "a line that begins with # is left out",
                                    .hint = "if it is a player's id, put it in quotes"});
        } else if (!is_blank()) {
          read_row();
        }
      }
    }
    RosterResult result;
    result.roster.players = std::move(players_);
    result.roster.build_index();
    report_.deliver(result.problems);
    if (options_.strict) {
      for (Problem& problem : result.problems) {
        problem.severity = problem.severity == Severity::suspicion ? Severity::error : problem.severity;
      }
    }
    return result;
  }

 private:
  bool is_blank() const {
    return std::all_of(csv_.fields().begin(), csv_.fields().end(), [](auto field) { return trim(field).empty(); });
  }

  bool read_preamble() {
    CsvRecord line;
    bool any = false;
    while (csv_.next_line(line)) {
      const std::string_view text = trim(line.text);
      if (line.fault != CsvFault::none) {
        report_.fault(line, options_.csv);
        return false;
      }
      if (text.starts_with('#') || text.starts_with("\"#")) {
        any = true;
        read_remark(line);
      } else if (text.find_first_not_of(",;\t ") != std::string_view::npos) {
        csv_.set_delimiter(detect_delimiter(text));
        csv_.seek(line.offset, line.line);
        csv_.next(line);
        return read_header(line);
      }
    }
    if (any) {
      report_.on_file({.code = "missing-header", .message = "there is no header line below the lines that begin with #",
                       .expected = std::string(header_example)});
    } else {
      report_.on_file({.severity = Severity::suspicion, .code = "empty-file", .message = "the file is empty",
                       .expected = std::string(header_example)});
    }
    return false;
  }

  void read_remark(const CsvRecord& line) {
    const detail::Directive found = detail::split_directive(line.text);
    const auto text_of = [&](ByteRange range) { return line.text.substr(range.begin, range.end - range.begin); };
    if (!found.is_directive || !equal_ignoring_case(text_of(found.key), "dates")) {
      return;
    }
    const std::string_view order = text_of(found.value);
    if (equal_ignoring_case(order, "dmy")) {
      dates_ = DateOrder::dmy;
    } else if (equal_ignoring_case(order, "mdy")) {
      dates_ = DateOrder::mdy;
    } else if (!equal_ignoring_case(order, "iso")) {
      report_.at(line, found.value,
                 {.code = "unknown-word", .message = "'dates' has no such word", .expected = "iso, dmy or mdy"});
    }
  }

  bool read_header(const CsvRecord& header) {
    if (header.fault != CsvFault::none) {
      report_.fault(header, options_.csv);
      return false;
    }
    const auto ranges = field_ranges(header.text, csv_.delimiter());
    for (std::size_t k = 0; k < csv_.fields().size(); ++k) {
      const std::string_view name = trim(csv_.fields()[k]);
      const auto at = std::find_if(column_names.begin(), column_names.end(),
                                   [&](std::string_view known) { return equal_ignoring_case(known, name); });
      RosterField field = at == column_names.end() ? RosterField::other
                                                   : static_cast<RosterField>(at - column_names.begin());
      const ByteRange range = ranges[std::min(k, ranges.size() - 1)];
      if (name.empty()) {
        field = RosterField::unnamed;
      } else if (field == RosterField::other && !equal_ignoring_case(name.substr(0, 2), "x-")) {
        unknown_column(header, range, name);
      } else if (field != RosterField::other && std::find(columns_.begin(), columns_.end(), field) != columns_.end()) {
        report_.at(header, range,
                   {.code = "repeated-column", .message = "the column '" + std::string(name) + "' stands twice",
                    .expected = "each column once"},
                   false);
        field = RosterField::other;
      }
      columns_.push_back(field);
    }
    if (std::find(columns_.begin(), columns_.end(), RosterField::player) == columns_.end()) {
      report_.on_line(header, {.code = "missing-column", .message = "the column 'player' is missing",
                               .expected = std::string(header_example)});
      return false;
    }
    return true;
  }

  void unknown_column(const CsvRecord& header, ByteRange range, std::string_view name) {
    const auto near = nearest(name, column_names);
    std::string hint = near ? "'" + std::string(*near) + "' may be meant" : std::string();
    if (!near && (equal_ignoring_case(name, "age") || equal_ignoring_case(name, "birthday"))) {
      hint = "'born' holds the date of birth; ages are computed at the date of each run";
    } else if (!near && (equal_ignoring_case(name, "gender"))) {
      hint = "'sex' may be meant: F or M, as the published norms part it";
    }
    report_.at(header, range,
               {.code = "unknown-column", .message = "there is no column '" + clipped(name) + "'",
                .expected = list_of(column_names, ",") + ", or a name of your own that begins with x-", .hint = std::move(hint)},
               false);
  }

  ByteRange range_of(std::size_t k) const {
    const auto ranges = field_ranges(record_.text, csv_.delimiter());
    return ranges[std::min(k, ranges.size() - 1)];
  }

  void cell_error(std::size_t k, std::string code, std::string message, std::string expected, std::string hint = {}) {
    report_.at(record_, range_of(k),
               {.code = std::move(code), .message = std::move(message), .expected = std::move(expected), .hint = std::move(hint)});
    bad_ = true;
  }

  void doubt(std::size_t k, std::string code, std::string message, std::string expected, std::string hint = {}) {
    report_.at(record_, range_of(k),
               {.severity = Severity::suspicion, .code = std::move(code), .message = std::move(message),
                .expected = std::move(expected), .hint = std::move(hint)});
  }

  void read_row() {
    const auto& fields = csv_.fields();
    if (fields.size() != columns_.size()) {
      report_.on_line(record_, {.code = "field-count",
                                .message = "this line has " + std::to_string(fields.size()) +
                                           (fields.size() == 1 ? " field" : " fields") + ", the header " +
                                           std::to_string(columns_.size()),
                                .expected = "as many fields as columns",
                                .hint = "empty fields need their separators, at the end of a line too"});
      return;
    }
    bad_ = false;
    Player player;
    std::optional<std::size_t> sitting_column;
    std::optional<std::size_t> bib_column;
    for (std::size_t k = 0; k < columns_.size(); ++k) {
      const std::string_view text = trim(fields[k]);
      if (text.empty()) {
        if (columns_[k] == RosterField::player) {
          cell_error(k, "missing-value", "'player' is empty", "an id");
        }
        continue;
      }
      sitting_column = columns_[k] == RosterField::sitting_height ? k : sitting_column;
      bib_column = columns_[k] == RosterField::bib ? k : bib_column;
      read_cell(k, text, player);
    }
    if (bad_) {
      return;
    }
    if (player.height_m && player.sitting_height_m &&
        (*player.sitting_height_m < least_sitting_share * *player.height_m ||
         *player.sitting_height_m > most_sitting_share * *player.height_m)) {
      doubt(*sitting_column, "unlikely-size", "a sitting height that does not go with the height",
            "about half of the height, measured from the seat");
    }
    if (bib_column) {
      const auto [at, is_new] = bibs_.try_emplace({player.team, player.bib}, record_.line);
      if (!is_new) {
        doubt(*bib_column, "repeated-bib", "another player has this bib on line " + std::to_string(at->second),
              "each bib once in a team");
      }
    }
    players_.push_back(std::move(player));
  }

  void read_cell(std::size_t k, std::string_view text, Player& player) {
    switch (columns_[k]) {
      case RosterField::player:
        read_id(k, text, player);
        return;
      case RosterField::bib:
        read_text(k, text, player.bib);
        return;
      case RosterField::name:
        read_text(k, text, player.name);
        return;
      case RosterField::team:
        read_text(k, text, player.team);
        return;
      case RosterField::sex:
        read_sex(k, text, player);
        return;
      case RosterField::born:
        read_born(k, text, player);
        return;
      case RosterField::height:
        read_size(k, text, "height_cm", height_cm, 0.01, player.height_m);
        return;
      case RosterField::mass:
        read_size(k, text, "mass_kg", mass_kg, 1.0, player.mass_kg);
        return;
      case RosterField::sitting_height:
        read_size(k, text, "sitting_height_cm", sitting_height_cm, 0.01, player.sitting_height_m);
        return;
      case RosterField::bats:
        read_bats(k, text, player);
        return;
      case RosterField::unnamed:
        cell_error(k, "unnamed-column", "a field stands in a column without a name", "a name in the header above it");
        return;
      case RosterField::other:
        return;
    }
  }

  void read_text(std::size_t k, std::string_view text, std::string& value) {
    if (text.size() > longest_text) {
      cell_error(k, "bad-text", "'" + std::string(column_names.at(static_cast<std::size_t>(columns_[k]))) + "' is too long",
                 "at most " + std::to_string(longest_text) + " bytes");
      return;
    }
    value = text;
  }

  void read_id(std::size_t k, std::string_view text, Player& player) {
    read_text(k, text, player.id);
    const auto [at, is_new] = ids_.try_emplace(std::string(text.substr(0, longest_text)), record_.line);
    if (!is_new) {
      cell_error(k, "repeated-player", "this player stands on line " + std::to_string(at->second) + " already",
                 "each player once");
    }
  }

  void read_sex(std::size_t k, std::string_view text, Player& player) {
    if (equal_ignoring_case(text, "F")) {
      player.sex = Sex::female;
    } else if (equal_ignoring_case(text, "M")) {
      player.sex = Sex::male;
    } else {
      const char first = ascii_lower(text.front());
      cell_error(k, "unknown-word", "'sex' has no such word", "F or M, as the published norms part it, or nothing",
                 first == 'g' || first == 'w' ? "'F' may be meant" : first == 'b' ? "'M' may be meant" : "");
    }
  }

  void read_bats(std::size_t k, std::string_view text, Player& player) {
    constexpr std::array words{std::string_view("left"), std::string_view("right"), std::string_view("both")};
    for (std::size_t w = 0; w < words.size(); ++w) {
      if (equal_ignoring_case(text, words[w]) || equal_ignoring_case(text, words[w].substr(0, 1))) {
        player.bats = static_cast<Side>(w);
        return;
      }
    }
    cell_error(k, "unknown-word", "'bats' has no such word", "left, right or both",
               equal_ignoring_case(text, "S") || equal_ignoring_case(text, "switch") ? "'both' may be meant" : "");
  }

  void read_born(std::size_t k, std::string_view text, Player& player) {
    const auto date = parse_date(text, dates_);
    if (!date) {
      cell_error(k, "bad-date", "'born' is not a date",
                 dates_ == DateOrder::iso   ? "year, month, day: 2015-04-11"
                 : dates_ == DateOrder::dmy ? "day, month, year: 11/04/2015"
                                            : "month, day, year: 04/11/2015",
                 date_hint(text, dates_));
      return;
    }
    if (options_.today) {
      if (*date > *options_.today) {
        cell_error(k, "future-birth", "a birth in the future", "a date not after " + format_date(*options_.today));
        return;
      }
      const double years = age_years(*date, *options_.today);
      if (years < youngest_years || years > oldest_years) {
        doubt(k, "unlikely-birth", "a player aged " + std::to_string(static_cast<int>(years)),
              "an age from 3 to 90 years");
      }
    }
    player.born = date;
  }

  void read_size(std::size_t k, std::string_view text, std::string_view name, const Bounds& bounds, double factor,
                 std::optional<double>& value) {
    const auto number = parse_decimal(text, csv_.delimiter() != ',');
    const std::string expected = "a number from " + format_number(bounds.lowest) + " to " + format_number(bounds.highest);
    if (!number || *number < bounds.lowest || *number > bounds.highest) {
      const bool metres = number && factor < 1.0 && *number * 100.0 >= bounds.low && *number * 100.0 <= bounds.high;
      cell_error(k, "bad-number", "'" + std::string(name) + "' is not a number it can be", expected,
                 metres ? "metres typed for centimetres? " + std::string(text) + " m is " + format_number(*number * 100.0) + " cm"
                        : "");
      return;
    }
    value = *number * factor;
    if (*number < bounds.low || *number > bounds.high) {
      const bool inches = factor < 1.0 && *number * 2.54 >= bounds.low && *number * 2.54 <= bounds.high;
      doubt(k, "unlikely-size", "'" + std::string(name) + "' is unusual",
            "most often " + format_number(bounds.low) + " to " + format_number(bounds.high),
            inches ? "inches typed for centimetres?" : "");
    }
  }

  std::size_t size_;
  FileReport report_;
  const RosterOptions& options_;
  CsvReader csv_;
  CsvRecord record_;
  DateOrder dates_ = DateOrder::iso;
  std::vector<RosterField> columns_;
  std::vector<Player> players_;
  std::map<std::string, std::size_t> ids_;
  std::map<std::pair<std::string, std::string>, std::size_t> bibs_;
  bool bad_ = false;
};

}  // namespace

RosterResult read_roster(std::string_view text, std::string path, const RosterOptions& options) {
  return RosterReader(text, std::move(path), options).read();
}

}  // namespace bagsplit::runs
