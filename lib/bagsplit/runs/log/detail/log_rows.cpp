#include "bagsplit/runs/log/detail/log_rows.hpp"

#include <algorithm>
#include <cmath>
#include <functional>
#include <limits>
#include <map>
#include <set>
#include <tuple>

#include "bagsplit/runs/entries.hpp"
#include "bagsplit/runs/log/detail/directive.hpp"
#include "bagsplit/runs/log/detail/flag_of_word.hpp"
#include "bagsplit/runs/log/detail/log_cells.hpp"
#include "bagsplit/runs/log/detail/log_header.hpp"
#include "bagsplit/runs/log/detail/log_splits.hpp"
#include "bagsplit/runs/log/detail/log_times.hpp"
#include "bagsplit/runs/log/file_columns.hpp"
#include "bagsplit/runs/typed.hpp"
#include "bagsplit/runs/words.hpp"
#include "bagsplit/text/eight_bytes.hpp"
#include "bagsplit/text/memory_hints.hpp"
#include "bagsplit/text/plain_number.hpp"
#include "bagsplit/text/text.hpp"
#include "bagsplit/text/wording.hpp"

namespace bagsplit::runs::detail {

namespace {

// As reserve(), but many small files do not each copy all that went before.
template <typename T>
void make_room(std::vector<T>& values, std::size_t more) {
  if (values.capacity() - values.size() < more) {
    text::detail::reserve_large(values, values.empty() ? more : std::max(values.size() + more, 2 * values.capacity()));
  }
}

// Unlike any cell: a NUL is refused before.
constexpr std::string_view no_cell("\0", 1);

class RowReader {
 public:
  RowReader(RawLog& log, std::uint16_t file, const ReadOptions& options)
      : log_(log),
        number_(file),
        file_(log.files[file]),
        options_(options),
        csv_(file_.text, options.csv),
        splits_(log, file_) {}

  void read() {
    if (file_.text.size() > options_.csv.max_file_bytes) {
      file_.report.on_file({.code = "file-too-large",
                            .message = "a file of " + std::to_string(file_.text.size()) + " bytes",
                            .expected = "at most " + std::to_string(options_.csv.max_file_bytes) + " bytes",
                            .hint = "split it into several files and give them together"});
      return;
    }
    if (file_.report.is_no_text(file_.text)) {
      return;
    }
    preamble_ = read_preamble(log_, file_, csv_, options_);
    if (!preamble_.usable) {
      return;
    }
    reserve();
    times_.resize(file_.columns.size());
    above_.resize(file_.columns.size());
    now_ = preamble_.defaults;
    std::size_t rows = 0;
    const bool has_entries = std::any_of(file_.columns.begin(), file_.columns.end(), [&](const Column& c) {
      return c.field == Field::carried && text::equal_ignoring_case(log_.names.text(c.name), entry_column);
    });
    while (csv_.next(record_)) {
      if (has_entries && record_.offset + record_.text.size() == file_.text.size()) {
        torn_line();
      } else if (record_.fault != text::CsvFault::none) {
        file_.report.fault(record_, options_.csv);
        ++rows;
      } else if (record_.text.empty() || is_blank()) {
        continue;
      } else if (record_.text.front() == '#') {
        left_out_row();
      } else {
        ++rows;
        read_row();
      }
    }
    log_.rows_read += rows;
    if (rows == 0) {
      file_.report.on_file(
          {.severity = text::Severity::note, .code = "no-rows", .message = "there are no rows below the header"});
    }
    tell_missing_base_distance();
  }

 private:
  // Room for the rows that the file can hold, unless it is full of empty lines, or its columns of empty cells.
  void reserve() {
    const std::size_t least_bytes = file_.columns.size() + 4;
    const std::size_t rows = std::min(csv_.lines_left(), file_.text.size() / least_bytes + 1);
    make_room(log_.rows, rows);
    const std::size_t splits = std::min(rows * file_.mark_columns.size(), file_.text.size() / 4);
    make_room(log_.splits, splits);
  }

  // A line of delimiters only, as a spreadsheet writes an empty row. Most lines begin with something.
  bool is_blank() const {
    return (record_.text.front() == file_.delimiter || record_.text.front() == ' ') &&
           std::all_of(csv_.fields().begin(), csv_.fields().end(),
                       [](auto field) { return text::trim(field).empty(); });
  }

  // A recorder writes whole lines: one that does not end was being written when the power went, and was never accepted.
  void torn_line() {
    file_.report.on_line(
        record_, {.severity = text::Severity::suspicion,
                  .code = "torn-line",
                  .message = "the last line has no end and is left out",
                  .hint = "it was being written when the recorder was cut off: type it again if it is missing"});
  }

  void left_out_row() {
    const Directive found = split_directive(record_.text);
    const std::string_view key = record_.text.substr(found.key.begin, found.key.end - found.key.begin);
    if (found.is_directive && (field_of_name(key) != Field::none || text::equal_ignoring_case(key, date_order_key))) {
      file_.report.on_line(record_, {.code = "late-key",
                                     .message = "a key stands below the header",
                                     .expected = "all lines '# key: value' above the header",
                                     .hint = "where a value changes from row to row, make it a column"});
      return;
    }
    const bool may_be_player = file_.columns.front().field == Field::player;
    file_.report.on_line(record_, {.severity = may_be_player ? text::Severity::suspicion : text::Severity::note,
                                   .code = "left-out-row",
                                   .message = "a line that begins with # is left out",
                                   .hint = may_be_player ? "if it is a player's id, put it in quotes" : ""});
  }

  // Text of the field as it stands in the file, for pointing at it.
  text::ByteRange range_of(std::size_t column) const {
    const auto ranges = text::field_ranges(record_.text, file_.delimiter);
    return ranges[std::min(column, ranges.size() - 1)];
  }

  void cell_problem(std::size_t column, CellFault fault) {
    file_.report.at(record_, range_of(column),
                    {.code = std::string(fault.code),
                     .message = std::move(fault.message),
                     .expected = std::move(fault.expected),
                     .hint = std::move(fault.hint)});
    bad_ = true;
  }

  // Conditions go on from the row before: only cells that say something else are read. Most repeat what stands above
  // them.
  void read_row() {
    bad_ = !preamble_.rows_usable;
    flag_for_time_ = Flag::none;
    faulty_.clear();
    const std::size_t count = check_field_count();
    carried_from_ = log_.carried.size();
    for (std::size_t k = 0; k < count; ++k) {
      const Column& column = file_.columns[k];
      const std::string_view text = csv_.fields()[k];
      if (column.field == Field::mark) {
        read_time(k, text);
      } else if (column.field == Field::carried) {
        carry(column, trimmed(text));
      } else if (!text::detail::same_text(text, above_[k])) {
        above_[k] = lasts(text) ? text : no_cell;
        new_setting_ = new_setting_ || !is_of_row(column.field);
        read_cell(k, column.field, trimmed(text));
      }
    }
    const Conditions typed = now_;
    const bool is_relay = count > 0 && now_.runners != no_name;
    if (count > 0) {
      apply_drill(log_, now_);
    }
    if (is_relay) {
      const std::size_t legs_from = log_.rows.size();
      if (!bad_) {
        add_relay();
      }
      if (bad_) {  // all legs or none
        log_.splits.resize(log_.rows.size() > legs_from ? log_.rows[legs_from].first_split : log_.splits.size());
        log_.rows.resize(legs_from);
        log_.carried.resize(carried_from_);
      }
      now_ = typed;
      return;
    }
    if (count > 0) {
      require_values();
    }
    if (!bad_) {
      add_row();
    } else {
      log_.carried.resize(carried_from_);
    }
    if (typed.drill != no_drill) {
      now_ = typed;  // what the drill said is said anew in the next row
    }
  }

  // As trim(), which few cells need.
  static std::string_view trimmed(std::string_view text) {
    return text.empty() || (text.front() > ' ' && text.back() > ' ') ? text : text::trim(text);
  }

  // Whether the text stands in the file itself, not in the reader's copy of a field with doubled quotes.
  bool lasts(std::string_view text) const {
    const std::less<> before;
    return !before(text.data(), record_.text.data()) && !before(record_.text.data() + record_.text.size(), text.data());
  }

  // How many fields can be read. One too few or too many, even an empty one, may have moved all that come after it.
  std::size_t check_field_count() {
    const std::size_t columns = file_.columns.size();
    const std::size_t fields = csv_.fields().size();
    if (fields == columns) {
      return columns;
    }
    bad_ = true;
    const std::string has = std::to_string(fields) + (fields == 1 ? " field" : " fields");
    file_.report.on_line(record_, {.code = "field-count",
                                   .message = "this line has " + has + ", the header " + std::to_string(columns),
                                   .expected = "as many fields as columns",
                                   .hint = field_count_hint(fields, columns)});
    for (const std::uint32_t k : file_.mark_columns) {
      times_[k] = std::numeric_limits<double>::quiet_NaN();
    }
    return 0;  // a field out of place would be told as many more errors
  }

  std::string field_count_hint(std::size_t fields, std::size_t columns) const {
    if (fields == 1 && columns > 1) {
      const char other = text::detect_delimiter(record_.text);
      if (other != file_.delimiter && record_.text.find(other) != std::string_view::npos) {
        return "this line and the header are separated by different marks";
      }
    }
    if (fields < columns) {
      const std::size_t missing = columns - fields;
      return std::to_string(missing) + (missing == 1 ? " separator is" : " separators are") +
             " missing: empty fields need theirs, at the end of a line too";
    }
    const auto& all = csv_.fields();
    for (std::size_t k = 0; k + 1 < all.size() && file_.delimiter == ','; ++k) {
      const bool halves = k < columns && file_.columns[k].field == Field::mark && parse_count(all[k], 0, 999) &&
                          all[k + 1].size() <= 3 && parse_count(all[k + 1], 0, 999);
      if (halves) {
        return "a decimal comma parts a field in two: write " + std::string(all[k]) + "." + std::string(all[k + 1]);
      }
    }
    for (std::size_t k = 0; k + 1 < all.size() && k < columns; ++k) {
      const std::string both = std::string(text::trim(all[k])) + "," + std::string(all[k + 1]);
      if (const auto date = file_.columns[k].field == Field::date ? parse_date(both, file_.dates) : std::nullopt) {
        return "a comma parts the date in two: write " + format_date(*date);
      }
    }
    if (text::trim(all.back()).empty()) {
      const std::size_t more = fields - columns;
      return std::to_string(more) + (more == 1 ? " separator" : " separators") + " too many";
    }
    return "a text with a " +
           std::string(file_.delimiter == ','   ? "comma"
                       : file_.delimiter == ';' ? "semicolon"
                                                : "tab") +
           " in it must stand in quotes";
  }

  void read_time(std::size_t k, std::string_view text) {
    const bool decimal_comma = file_.delimiter != ',';
    times_[k] = text::detail::plain_number(text, decimal_comma);
    if (times_[k] <= longest_time_s) {
      return;
    }
    times_[k] = std::numeric_limits<double>::quiet_NaN();
    text = text::trim(text);
    if (text.empty()) {
      return;
    }
    const bool is_move = log_.marks[file_.columns[k].mark].is_move;
    if (const auto time = is_move ? parse_move_s(text, decimal_comma) : parse_time_s(text, decimal_comma)) {
      times_[k] = *time;
    } else if (const auto flag = flag_of_word(text)) {
      flag_for_time_ = flag_for_time_ == Flag::none ? *flag : flag_for_time_;
      file_.report.at(record_, range_of(k),
                      {.severity = text::Severity::note,
                       .code = "flag-for-time",
                       .message = "a word in place of a time is read as the flag " + std::string(word_of(*flag)),
                       .expected = "an empty cell, and the word in the column flag"});
    } else {
      cell_problem(k, time_fault(log_.names.text(file_.columns[k].name), text, decimal_comma));
    }
  }

  void carry(const Column& column, std::string_view text) {
    if (!text.empty()) {
      log_.carried.push_back({static_cast<std::uint32_t>(log_.rows.size()), column.name, log_.names.id(text)});
    }
  }

  void read_cell(std::size_t k, Field field, std::string_view text) {
    if (text.empty()) {
      set_default(field, preamble_.defaults, now_);
      return;
    }
    if (field == Field::none) {
      if (file_.columns[k].unnamed) {
        refuse(k, {"unnamed-column", "a field stands in a column without a name", "a name in the header above it", {}});
      }
      return;
    }
    if (field == Field::date) {  // of all cells the one that changes most often without being a name
      if (const auto date = parse_date(text, file_.dates)) {
        now_.date = *date;
        now_.has_date = true;
        return;
      }
    }
    CellFault fault = read_field(field, text, log_, file_, now_);
    if (!fault.code.empty()) {
      faulty_.push_back(field);
      refuse(k, std::move(fault));
    } else if (field == Field::base_distance && unusual_bases_.insert(now_.base_m).second) {
      if (auto doubt = unusual_base_distance(now_.base_m)) {
        file_.report.at(record_, range_of(k), *std::move(doubt));
      }
    }
  }

  // A cell that says nothing: should the next row repeat it, that is a problem of its own.
  void refuse(std::size_t k, CellFault fault) {
    above_[k] = no_cell;
    cell_problem(k, std::move(fault));
  }

  void require_values() {
    const auto missing = [&](Field field, bool absent) {
      if (!absent || std::find(faulty_.begin(), faulty_.end(), field) != faulty_.end()) {
        return;
      }
      bad_ = true;
      const std::string name(field_names.at(static_cast<std::size_t>(field)));
      for (std::size_t k = 0; k < file_.columns.size(); ++k) {
        if (file_.columns[k].field == field) {
          file_.report.at(record_, range_of(k),
                          {.code = "missing-value",
                           .message = "'" + name + "' is empty",
                           .expected = "a value, or a line '# " + name + ": ...' above the header"});
          return;
        }
      }
    };
    missing(Field::date, !now_.has_date);
    missing(Field::player, now_.player == no_name);
    missing(Field::course, now_.course == no_name);
    if (bad_) {
      return;
    }
    if (log_.courses[now_.course].is_base_path() && now_.base_m == 0.0) {
      bad_ = true;
      if (rows_without_base_++ == 0) {
        first_without_base_ = record_;
      }
    }
  }

  void relay_problem(Field field, std::string message, std::string expected, std::string hint = {}) {
    std::size_t k = 0;
    while (k < file_.columns.size() && file_.columns[k].field != field) {
      ++k;
    }
    text::Problem problem{
        .code = "bad-relay", .message = std::move(message), .expected = std::move(expected), .hint = std::move(hint)};
    if (k < file_.columns.size()) {
      file_.report.at(record_, range_of(k), std::move(problem));
    } else {
      file_.report.on_line(record_, std::move(problem));
    }
    bad_ = true;
  }

  // Words parted by blanks, commas or semicolons.
  static std::vector<std::string_view> words_in(std::string_view text) {
    std::vector<std::string_view> out;
    for (std::size_t at = 0; at < text.size();) {
      const std::size_t from = text.find_first_not_of(" ,;\t", at);
      if (from == std::string_view::npos) {
        break;
      }
      at = std::min(text.find_first_of(" ,;\t", from), text.size());
      out.push_back(text.substr(from, at - from));
    }
    return out;
  }

  // A relay in one row becomes a row for each leg, all on the team's clock.
  void add_relay() {
    const Conditions relay = now_;
    const std::string runner_text = log_.names.text(relay.runners);
    const std::string clock_text = relay.clock == no_name ? std::string() : log_.names.text(relay.clock);
    const auto runners = words_in(runner_text);
    const std::vector<double> clock_s = relay_clock(words_in(clock_text), runners.size());
    if (relay.team == no_name) {
      relay_problem(Field::team, "a relay without a team", "the team's name, such as red");
    } else if (relay.way == Way::unsaid) {
      relay_problem(Field::way, "a relay, and nothing says which way it began",
                    "way: first where the first leg ran by way of first base, third where by way of third",
                    relay.team == no_name ? "" : "the other team runs the other way");
    } else if (runners.size() < 2) {
      relay_problem(Field::runners, "a relay of one", "the team's players in order, such as 12 7 3 9");
    } else if (relay.player != no_name || relay.leg != 0) {
      relay_problem(Field::runners, "a relay in one row names its players there, and no player or leg of its own",
                    "'player' and 'leg' empty");
    }
    if (bad_) {
      return;
    }
    const std::uint16_t trial = relay.trial != 0 ? relay.trial : next_relay(relay);
    for (std::size_t k = 0; k < runners.size() && !bad_; ++k) {
      now_ = relay;
      now_.trial = trial;
      now_.player = log_.names.id(runners[k]);
      now_.leg = static_cast<std::uint16_t>(k + 1);
      const std::string course =
          std::string(k % 2 == 0 ? "home-second" : "second-home") + (relay.way == Way::third ? "-reverse" : "");
      now_.course = static_cast<std::uint32_t>(find_course(log_.courses, course) - log_.courses.data());
      require_values();
      if (!bad_) {
        add_leg(k % 2 == 0 ? "second" : "home", clock_s[k]);
      }
    }
  }

  // What the clock read at the end of each leg; NaN where nobody looked.
  std::vector<double> relay_clock(const std::vector<std::string_view>& words, std::size_t legs) {
    std::vector<double> out(legs, std::numeric_limits<double>::quiet_NaN());
    if (words.empty() || (words.size() != 1 && words.size() != legs)) {
      relay_problem(Field::clock, text::counted(words.size(), "time") + " for " + text::counted(legs, "runner"),
                    "one at each exchange and at the finish, - where nobody looked; or the finish alone",
                    words.size() + 1 == legs ? "is the finish missing, or a runner too many?" : "");
      return out;
    }
    for (std::size_t k = 0; k < words.size(); ++k) {
      if (words[k] == "-") {
        continue;
      }
      const auto time = parse_time_s(words[k], file_.delimiter != ',');
      if (!time) {
        CellFault fault = time_fault("clock", words[k], file_.delimiter != ',');
        relay_problem(Field::clock, "'" + std::string(words[k]) + "' in the clock is not a time",
                      std::move(fault.expected), std::move(fault.hint));
        return out;
      }
      out[words.size() == 1 ? legs - 1 : k] = *time;
    }
    return out;
  }

  // Relays of a team on one date and place are numbered as they come, each watch for itself.
  std::uint16_t next_relay(const Conditions& relay) {
    return ++relays_[{relay.date, relay.place, relay.team, relay.timer}];
  }

  // A row with what stands in it whatever was run.
  RawRow& begin_row() {
    RawRow& row = log_.rows.emplace_back();
    row.offset = static_cast<std::uint32_t>(record_.offset);
    row.line = static_cast<std::uint32_t>(record_.line);
    row.player = now_.player;
    row.timer = now_.timer;
    row.note = now_.note;
    row.date = static_cast<std::int32_t>(now_.date.time_since_epoch().count());
    row.trial = now_.trial;
    row.leg = now_.leg;
    return row;
  }

  void add_leg(std::string_view bag, double clock_s) {
    RawRow& row = begin_row();
    row.flag = now_.flag;
    row.first_split = static_cast<std::uint32_t>(log_.splits.size());
    const std::uint32_t layout = log_.layout_of(static_cast<std::uint16_t>(now_.course), now_.base_m);
    if (!std::isnan(clock_s)) {
      const std::uint16_t mark = log_.mark_number(bag).value();
      log_.splits.push_back({log_.mark_m(layout, mark), clock_s, log_.marks[mark].name, false});
      row.split_count = 1;
    }
    row.setting =
        log_.setting_number({layout, now_.place, now_.team, now_.surface, now_.beam_m, now_.wind_mps,
                             now_.temperature_c, number_, now_.device, now_.start, now_.signal, now_.posture});
    new_setting_ = true;
  }

  void tell_missing_base_distance() {
    if (rows_without_base_ > 0) {
      file_.report.on_line(first_without_base_,
                           {.code = "no-base-distance",
                            .message = "no base distance is given for " + std::to_string(rows_without_base_) +
                                       (rows_without_base_ == 1 ? " run" : " runs") + " along the bases",
                            .expected = "a line such as '# base-distance: 60 ft' above the header, or a column"});
    }
  }

  void add_row() {
    RawRow& row = begin_row();
    row.flag = now_.flag != Flag::none ? now_.flag : flag_for_time_;
    row.checked = now_.checked;
    row.laps = now_.laps;
    if (!splits_.read(record_, now_, times_, row)) {
      log_.rows.pop_back();
      log_.carried.resize(carried_from_);
      return;
    }
    if (new_setting_) {
      setting_ = log_.setting_number({splits_.layout(), now_.place, now_.team, now_.surface, now_.beam_m, now_.wind_mps,
                                      now_.temperature_c, number_, now_.device, now_.start, now_.signal, now_.posture});
      new_setting_ = false;
    }
    if (now_.heat != no_name || now_.finish != 0) {
      row.trial = 0;  // heats number themselves
      log_.heat_rows.push_back(
          {static_cast<std::uint32_t>(log_.rows.size() - 1), now_.heat, now_.finish, now_.finish_mark, now_.ties});
    }
    row.setting = setting_;
    row.plain = is_plain(log_, row, options_.limits);
  }

  // Whether a field goes into the row itself, not into its setting.
  static bool is_of_row(Field field) {
    return field == Field::date || field == Field::player || field == Field::trial || field == Field::timer ||
           field == Field::leg || field == Field::splits || field == Field::flag || field == Field::note ||
           field == Field::way || field == Field::runners || field == Field::clock || field == Field::heat ||
           field == Field::finish || field == Field::finish_at || field == Field::finish_ties ||
           field == Field::checked;
  }

  RawLog& log_;
  std::uint16_t number_;
  LogFile& file_;
  const ReadOptions& options_;
  text::CsvReader csv_;
  text::CsvRecord record_;
  Preamble preamble_;
  Conditions now_;                       // what the cells of the rows so far say
  std::vector<std::string_view> above_;  // by column: the cell that said so
  std::uint32_t setting_ = 0;            // of the rows so far
  bool new_setting_ = true;              // the row at hand may have another
  std::vector<double> times_;            // by column; NaN where empty
  SplitReader splits_;
  std::map<std::tuple<Date, NameId, NameId, NameId>, std::uint16_t> relays_;  // date, place, team, timer
  std::set<double> unusual_bases_;
  Flag flag_for_time_ = Flag::none;  // of the row at hand: a word that stands where a time should
  std::size_t carried_from_ = 0;
  std::size_t rows_without_base_ = 0;
  text::CsvRecord first_without_base_;
  std::vector<Field> faulty_;  // fields of the row whose cells were refused
  bool bad_ = false;
};

}  // namespace

void read_rows(RawLog& log, std::uint16_t file, const ReadOptions& options) {
  RowReader(log, file, options).read();
}

}  // namespace bagsplit::runs::detail
