#include "bagsplit/runs/roster/roster.hpp"

#include <algorithm>
#include <map>

#include "bagsplit/runs/log/detail/directive.hpp"
#include "bagsplit/runs/log/detail/log_spelling.hpp"
#include "bagsplit/runs/log/file_columns.hpp"
#include "bagsplit/runs/log/file_report.hpp"
#include "bagsplit/runs/roster/detail/roster_cells.hpp"
#include "bagsplit/runs/typed.hpp"
#include "bagsplit/text/text.hpp"
#include "bagsplit/text/wording.hpp"

namespace bagsplit::runs {

namespace {

using detail::RosterField;

constexpr std::size_t longest_id = 200;
constexpr std::string_view header_example = "a header line such as player,sex,born";

class RosterReader {
 public:
  RosterReader(std::string_view text, std::string path, const RosterOptions& options)
      : text_(text), report_(std::move(path), options.max_problems), options_(options), csv_(text, options.csv) {}

  RosterResult read() {
    if (text_.size() > options_.csv.max_file_bytes) {
      report_.on_file({.code = "file-too-large",
                       .message = "a file of " + std::to_string(text_.size()) + " bytes",
                       .expected = "at most " + std::to_string(options_.csv.max_file_bytes) + " bytes"});
    } else if (!report_.is_no_text(text_) && read_preamble()) {
      while (csv_.next(record_)) {
        if (record_.fault != text::CsvFault::none) {
          report_.fault(record_, options_.csv);
        } else if (record_.text.starts_with('#')) {
          report_.on_line(record_, {.severity = text::Severity::suspicion,
                                    .code = "left-out-row",
                                    .message = "a line that begins with # is left out",
                                    .hint = "if it is a player's id, put it in quotes"});
        } else if (!is_blank()) {
          read_row();
        }
      }
    }
    RosterResult result;
    result.roster.players = std::move(players_);
    result.births = std::move(births_);
    result.roster.build_index();
    report_.deliver(result.problems);
    if (options_.strict) {
      for (text::Problem& problem : result.problems) {
        problem.severity = problem.severity == text::Severity::suspicion ? text::Severity::error : problem.severity;
      }
    }
    return result;
  }

 private:
  bool is_blank() const {
    return std::all_of(csv_.fields().begin(), csv_.fields().end(),
                       [](auto field) { return text::trim(field).empty(); });
  }

  bool read_preamble() {
    text::CsvRecord line;
    bool any = false;
    while (csv_.next_line(line)) {
      const std::string_view text = text::trim(line.text);
      if (line.fault != text::CsvFault::none) {
        report_.fault(line, options_.csv);
        return false;
      }
      if (text.starts_with('#') || text.starts_with("\"#")) {
        any = true;
        read_remark(line);
      } else if (!text::names_delimiter(text) && text.find_first_not_of(",;\t ") != std::string_view::npos) {
        csv_.set_delimiter(text::detect_delimiter(text));
        csv_.seek(line.offset, line.line);
        csv_.next(line);
        return read_header(line);
      }
    }
    if (any) {
      report_.on_file({.code = "missing-header",
                       .message = "there is no header line below the lines that begin with #",
                       .expected = std::string(header_example)});
    } else {
      report_.on_file({.severity = text::Severity::suspicion,
                       .code = "empty-file",
                       .message = "the file is empty",
                       .expected = std::string(header_example)});
    }
    return false;
  }

  void read_remark(const text::CsvRecord& line) {
    const detail::Directive found = detail::split_directive(line.text);
    const auto text_of = [&](text::ByteRange range) { return line.text.substr(range.begin, range.end - range.begin); };
    if (!found.is_directive || !text::equal_ignoring_case(text_of(found.key), date_order_key)) {
      return;
    }
    if (const auto order = read_date_order(text_of(found.value))) {
      dates_ = *order;
    } else {
      report_.at(
          line, found.value,
          {.code = "unknown-word", .message = "'dates' has no such word", .expected = text::list_of(date_order_words)});
    }
  }

  bool read_header(const text::CsvRecord& header) {
    if (header.fault != text::CsvFault::none) {
      report_.fault(header, options_.csv);
      return false;
    }
    const auto ranges = text::field_ranges(header.text, csv_.delimiter());
    for (std::size_t k = 0; k < csv_.fields().size(); ++k) {
      const std::string_view name = text::trim(csv_.fields()[k]);
      const auto at = std::find_if(detail::roster_names.begin(), detail::roster_names.end(),
                                   [&](std::string_view known) { return text::equal_ignoring_case(known, name); });
      RosterField field = at == detail::roster_names.end()
                              ? RosterField::other
                              : static_cast<RosterField>(at - detail::roster_names.begin());
      const text::ByteRange range = ranges[std::min(k, ranges.size() - 1)];
      if (name.empty()) {
        field = RosterField::unnamed;
      } else if (field == RosterField::other && !text::equal_ignoring_case(name.substr(0, 2), "x-")) {
        unknown_column(header, range, name);
      } else if (field != RosterField::other && std::find(columns_.begin(), columns_.end(), field) != columns_.end()) {
        report_.at(header, range,
                   {.code = "repeated-column",
                    .message = "the column '" + std::string(name) + "' stands twice",
                    .expected = "each column once"},
                   false);
        field = RosterField::other;
      }
      columns_.push_back(field);
    }
    if (std::find(columns_.begin(), columns_.end(), RosterField::player) == columns_.end()) {
      report_.on_line(header, {.code = "missing-column",
                               .message = "the column 'player' is missing",
                               .expected = std::string(header_example)});
      return false;
    }
    return true;
  }

  void unknown_column(const text::CsvRecord& header, text::ByteRange range, std::string_view name) {
    const auto near = text::nearest(name, detail::roster_names);
    std::string hint = near ? "'" + std::string(*near) + "' may be meant" : std::string();
    if (!near && (text::equal_ignoring_case(name, "age") || text::equal_ignoring_case(name, "birthday"))) {
      hint = "'born' holds the date of birth; ages are computed at the date of each run";
    } else if (!near && (text::equal_ignoring_case(name, "gender"))) {
      hint = "'sex' may be meant: F or M, as the published norms part it";
    }
    report_.at(header, range,
               {.code = "unknown-column",
                .message = "there is no column '" + text::clipped(name) + "'",
                .expected = text::list_of(detail::roster_names, ",") + ", or a name of your own that begins with x-",
                .hint = std::move(hint)},
               false);
  }

  text::ByteRange range_of(std::size_t k) const {
    const auto ranges = text::field_ranges(record_.text, csv_.delimiter());
    return ranges[std::min(k, ranges.size() - 1)];
  }

  // An error leaves the row out, a suspicion does not.
  void report_cell(std::size_t k, text::Problem problem) {
    bad_ = bad_ || problem.severity == text::Severity::error;
    report_.at(record_, range_of(k), std::move(problem));
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
    born_at_ = {};
    Player player;
    for (std::size_t k = 0; k < columns_.size(); ++k) {
      read_cell(k, text::trim(fields[k]), player);
    }
    if (!bad_) {
      check_bib(player);
      players_.push_back(std::move(player));
      births_.push_back(std::move(born_at_));
    }
  }

  void read_cell(std::size_t k, std::string_view text, Player& player) {
    const RosterField field = columns_[k];
    if (text.empty()) {
      if (field == RosterField::player) {
        report_cell(k, {.code = "missing-value", .message = "'player' is empty", .expected = "an id"});
      }
      return;
    }
    const detail::RosterTyping typing{dates_, csv_.delimiter() != ',', options_.today};
    if (auto problem = detail::read_roster_cell(field, text, typing, player)) {
      report_cell(k, *std::move(problem));
    } else if (field == RosterField::player) {
      const auto [at, is_new] = ids_.try_emplace(std::string(text.substr(0, longest_id)), record_.line);
      if (!is_new) {
        report_cell(k, {.code = "repeated-player",
                        .message = "this player stands on line " + std::to_string(at->second) + " already",
                        .expected = "each player once"});
      } else {
        doubt_spelling(k, player.id);
      }
    }
    if (field == RosterField::born && player.born) {
      born_at_ = report_.placed(record_, range_of(k), {});
    }
    const bool is_last_size = (field == RosterField::sitting_height && player.height_m) ||
                              (field == RosterField::height && player.sitting_height_m);
    if (is_last_size && !bad_) {
      if (auto problem = detail::doubt_sitting_height(player)) {
        report_cell(k, *std::move(problem));
      }
    }
  }

  void doubt_spelling(std::size_t k, const std::string& id) {
    if (auto doubt = detail::doubt_rounded_id(id)) {
      report_cell(k, *std::move(doubt));
    }
    const auto [at, is_new] = spellings_.try_emplace(detail::bare_word(id), id, record_.line);
    if (!is_new) {
      const auto& [other, line] = at->second;
      report_cell(k, {.severity = text::Severity::suspicion,
                      .code = "two-spellings",
                      .message = "one player in two spellings? " + text::in_quotes(other) + " stands on line " +
                                 std::to_string(line),
                      .expected = "each player once",
                      .hint = detail::unseen_difference(id, other)});
    }
  }

  void check_bib(const Player& player) {
    const auto column = std::find(columns_.begin(), columns_.end(), RosterField::bib);
    if (player.bib.empty() || column == columns_.end()) {
      return;
    }
    const auto [at, is_new] = bibs_.try_emplace({player.team, player.bib}, record_.line);
    if (!is_new) {
      report_cell(static_cast<std::size_t>(column - columns_.begin()),
                  {.severity = text::Severity::suspicion,
                   .code = "repeated-bib",
                   .message = "another player has this bib on line " + std::to_string(at->second),
                   .expected = "each bib once in a team"});
    }
  }

  std::string_view text_;
  FileReport report_;
  const RosterOptions& options_;
  text::CsvReader csv_;
  text::CsvRecord record_;
  DateOrder dates_ = DateOrder::iso;
  std::vector<RosterField> columns_;
  std::vector<Player> players_;
  text::Problems births_;
  text::Problem born_at_;  // in the row at hand
  std::map<std::string, std::size_t> ids_;
  std::map<std::string, std::pair<std::string, std::size_t>> spellings_;  // bare_word of an id: the id, its line
  std::map<std::pair<std::string, std::string>, std::size_t> bibs_;
  bool bad_ = false;
};

}  // namespace

RosterResult read_roster(std::string_view text, std::string path, const RosterOptions& options) {
  return RosterReader(text, std::move(path), options).read();
}

text::Problems check_births(const RosterResult& roster, const RunLog& log, bool strict) {
  std::map<std::string_view, std::pair<Date, Date>> dates;  // of each player: the first and the last
  for (const Run& run : log.runs) {
    const auto [at, is_new] = dates.try_emplace(log.name(run.player), run.date, run.date);
    at->second = {std::min(at->second.first, run.date), std::max(at->second.second, run.date)};
  }
  text::Problems out;
  for (std::size_t k = 0; k < roster.roster.players.size(); ++k) {
    const Player& player = roster.roster.players[k];
    const auto at = dates.find(player.id);
    if (!player.born || at == dates.end()) {
      continue;
    }
    std::optional<text::Problem> found = detail::doubt_birth(*player.born, at->second.first);
    if (!found) {
      found = detail::doubt_birth(*player.born, at->second.second);
    }
    const text::Problem& place = roster.births[k];
    const bool is_told = found && found->severity == text::Severity::suspicion &&
                         std::any_of(roster.problems.begin(), roster.problems.end(), [&](const text::Problem& told) {
                           return told.code == found->code && told.line == place.line;
                         });
    if (!found || is_told) {
      continue;
    }
    text::Problem problem = place;
    problem.severity = strict ? text::Severity::error : found->severity;
    problem.code = std::move(found->code);
    problem.message = std::move(found->message);
    problem.expected = std::move(found->expected);
    problem.hint = std::move(found->hint);
    out.push_back(std::move(problem));
  }
  return out;
}

}  // namespace bagsplit::runs
