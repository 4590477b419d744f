#include "bagsplit/runs/log_rows.hpp"

#include <algorithm>
#include <cmath>
#include <functional>
#include <set>

#include "bagsplit/runs/log_cells.hpp"
#include "bagsplit/runs/log_header.hpp"
#include "bagsplit/runs/text.hpp"
#include "bagsplit/runs/units.hpp"

namespace bagsplit::runs::detail {

namespace {

// As reserve(), but many small files do not each copy all that went before.
template <typename T>
void make_room(std::vector<T>& values, std::size_t more) {
  if (values.capacity() - values.size() < more) {
    values.reserve(values.empty() ? more : std::max(values.size() + more, 2 * values.capacity()));
  }
}

class RowReader {
 public:
  RowReader(RawLog& log, std::uint16_t file, const ReadOptions& options)
      : log_(log), number_(file), file_(log.files[file]), options_(options), csv_(file_.text, options.csv) {}

  void read() {
    if (file_.text.size() > options_.csv.max_file_bytes) {
      file_.report.on_file({.code = "file-too-large",
                            .message = "a file of " + std::to_string(file_.text.size()) + " bytes",
                            .expected = "at most " + std::to_string(options_.csv.max_file_bytes) + " bytes",
                            .hint = "split it into several files and give them together"});
      return;
    }
    preamble_ = read_preamble(log_, file_, csv_, options_);
    if (!preamble_.usable) {
      return;
    }
    const std::size_t lines = csv_.lines_left();
    make_room(log_.rows, lines);
    const std::size_t splits = lines * std::max<std::size_t>(1, file_.mark_columns.size());
    if (file_.mark_columns.size() <= 16) {  // a wide, sparse file would reserve far more than it fills
      make_room(log_.split_time_s, splits);
      make_room(log_.split_mark, splits);
    }
    times_.resize(file_.columns.size());
    std::size_t rows = 0;
    while (csv_.next(record_)) {
      if (record_.fault != CsvFault::none) {
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
      file_.report.on_file({.severity = Severity::note, .code = "no-rows", .message = "there are no rows below the header"});
    }
    tell_missing_base_distance();
  }

 private:
  // A line of delimiters only, as a spreadsheet writes an empty row. Most lines begin with something.
  bool is_blank() const {
    return (record_.text.front() == file_.delimiter || record_.text.front() == ' ') &&
           std::all_of(csv_.fields().begin(), csv_.fields().end(), [](auto field) { return trim(field).empty(); });
  }

  void left_out_row() {
    const Directive found = split_directive(record_.text);
    const std::string_view key = record_.text.substr(found.key.begin, found.key.end - found.key.begin);
    if (found.is_directive && (field_of_name(key) != Field::none || equal_ignoring_case(key, "dates"))) {
      file_.report.on_line(record_, {.code = "late-key", .message = "a key stands below the header",
                                     .expected = "all lines '# key: value' above the header",
                                     .hint = "where a value changes from row to row, make it a column"});
      return;
    }
    const bool may_be_player = file_.columns.front().field == Field::player;
    file_.report.on_line(record_, {.severity = may_be_player ? Severity::suspicion : Severity::note,
                                   .code = "left-out-row", .message = "a line that begins with # is left out",
                                   .hint = may_be_player ? "if it is a player's id, put it in quotes" : ""});
  }

  // Text of the field as it stands in the file, for pointing at it.
  ByteRange range_of(std::size_t column) const {
    const auto ranges = field_ranges(record_.text, file_.delimiter);
    return ranges[std::min(column, ranges.size() - 1)];
  }

  void cell_problem(std::size_t column, CellFault fault) {
    file_.report.at(record_, range_of(column),
                    {.code = std::string(fault.code), .message = std::move(fault.message),
                     .expected = std::move(fault.expected), .hint = std::move(fault.hint)});
    bad_ = true;
  }

  void read_row() {
    bad_ = !preamble_.rows_usable;
    now_ = preamble_.defaults;
    const std::size_t count = check_field_count();
    carried_from_ = log_.carried.size();
    for (std::size_t k = 0; k < count; ++k) {
      const Column& column = file_.columns[k];
      const std::string_view text = trim(csv_.fields()[k]);
      if (column.field == Field::mark) {
        read_time(k, text);
      } else if (!text.empty()) {
        read_cell(k, column, text);
      }
    }
    if (!bad_) {
      require_values();
    }
    if (!bad_) {
      add_row();
    } else {
      log_.carried.resize(carried_from_);
    }
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
    file_.report.on_line(record_, {.code = "field-count", .message = "this line has " + has + ", the header " + std::to_string(columns),
                                   .expected = "as many fields as columns", .hint = field_count_hint(fields, columns)});
    for (const std::uint32_t k : file_.mark_columns) {
      times_[k] = std::numeric_limits<double>::quiet_NaN();
    }
    return 0;  // a field out of place would be told as many more errors
  }

  std::string field_count_hint(std::size_t fields, std::size_t columns) const {
    if (fields == 1 && columns > 1) {
      const char other = detect_delimiter(record_.text);
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
    if (trim(all.back()).empty()) {
      const std::size_t more = fields - columns;
      return std::to_string(more) + (more == 1 ? " separator" : " separators") + " too many";
    }
    return "a text with a " + std::string(file_.delimiter == ',' ? "comma" : file_.delimiter == ';' ? "semicolon" : "tab") +
           " in it must stand in quotes";
  }

  void read_time(std::size_t k, std::string_view text) {
    times_[k] = std::numeric_limits<double>::quiet_NaN();
    if (text.empty()) {
      return;
    }
    const bool decimal_comma = file_.delimiter != ',';
    if (const auto time = parse_time_s(text, decimal_comma)) {
      times_[k] = *time;
    } else {
      cell_problem(k, time_fault(log_.names.text(file_.columns[k].name), text, decimal_comma));
    }
  }

  void read_cell(std::size_t k, const Column& column, std::string_view text) {
    switch (column.field) {
      case Field::carried:
        log_.carried.push_back({static_cast<std::uint32_t>(log_.rows.size()), column.name, log_.names.id(text)});
        return;
      case Field::none:
        if (column.unnamed) {
          cell_problem(k, {"unnamed-column", "a field stands in a column without a name", "a name in the header above it", {}});
        }
        return;
      // What the row before had is likely to come again, and cheaper to compare than to look up.
      case Field::date:
        if (text == last_date_text_) {
          now_.date = last_date_;
          now_.has_date = true;
          return;
        }
        break;
      case Field::player:
        now_.player = last_.player;
        break;
      case Field::course:
        now_.course = last_.course;
        break;
      case Field::place:
        now_.place = last_.place;
        break;
      case Field::timer:
        now_.timer = last_.timer;
        break;
      case Field::note:
        now_.note = last_.note;
        break;
      default:
        break;
    }
    CellFault fault = read_field(column.field, text, log_, file_, now_);
    if (!fault.code.empty()) {
      cell_problem(k, std::move(fault));
    } else if (column.field == Field::base_distance && unusual_bases_.insert(now_.base_m).second) {
      if (auto doubt = unusual_base_distance(now_.base_m)) {
        file_.report.at(record_, range_of(k), *std::move(doubt));
      }
    } else if (column.field == Field::date) {
      last_date_text_ = text;
      last_date_ = now_.date;
    }
  }

  void require_values() {
    const auto missing = [&](Field field, bool absent) {
      if (!absent) {
        return;
      }
      bad_ = true;
      const std::string name(field_names.at(static_cast<std::size_t>(field)));
      for (std::size_t k = 0; k < file_.columns.size(); ++k) {
        if (file_.columns[k].field == field) {
          file_.report.at(record_, range_of(k),
                          {.code = "missing-value", .message = "'" + name + "' is empty",
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

  void tell_missing_base_distance() {
    if (rows_without_base_ > 0) {
      file_.report.on_line(first_without_base_,
                           {.code = "no-base-distance",
                            .message = "no base distance is given for " + std::to_string(rows_without_base_) +
                                       (rows_without_base_ == 1 ? " run" : " runs") + " along the bases",
                            .expected = "a line such as '# base-distance: 60 ft' above the header, or a column"});
    }
  }

  void use_layout() {
    if (have_layout_ && layout_course_ == now_.course && layout_base_m_ == now_.base_m) {
      return;
    }
    layout_ = log_.layout_of(static_cast<std::uint16_t>(now_.course), now_.base_m);
    layout_course_ = now_.course;
    layout_base_m_ = now_.base_m;
    have_layout_ = true;
    // Along the course, `move` first.
    order_ = file_.mark_columns;
    const auto key = [&](std::uint32_t k) {
      const Column& column = file_.columns[k];
      return log_.marks[column.mark].is_move ? -1.0 : log_.mark_m(layout_, column.mark);
    };
    std::stable_sort(order_.begin(), order_.end(), [&](std::uint32_t a, std::uint32_t b) {
      const double x = key(a);
      const double y = key(b);
      return std::isnan(y) ? !std::isnan(x) : x < y;
    });
    const Course& course = log_.courses[now_.course];
    length_m_ = course_length_m(course, now_.base_m);
  }

  void add_row() {
    use_layout();
    RawRow row;
    row.offset = static_cast<std::uint32_t>(record_.offset);
    row.line = static_cast<std::uint32_t>(record_.line);
    row.first_split = static_cast<std::uint32_t>(log_.split_time_s.size());
    row.layout = layout_;
    row.player = now_.player;
    row.place = now_.place;
    row.team = now_.team;
    row.surface = now_.surface;
    row.timer = now_.timer;
    row.note = now_.note;
    row.date = static_cast<std::int32_t>(now_.date.time_since_epoch().count());
    row.beam_m = now_.beam_m;
    row.wind_mps = now_.wind_mps;
    row.temperature_c = now_.temperature_c;
    row.file = number_;
    row.trial = now_.trial;
    row.leg = now_.leg;
    row.device = now_.device;
    row.start = now_.start;
    row.posture = now_.posture;
    row.flag = now_.flag;
    row.laps = now_.laps;
    last_ = now_;
    if (!add_splits(row)) {
      log_.split_time_s.resize(row.first_split);
      log_.split_mark.resize(row.first_split);
      log_.carried.resize(carried_from_);
      return;
    }
    row.split_count = static_cast<std::uint16_t>(log_.split_time_s.size() - row.first_split);
    log_.rows.push_back(row);
  }

  bool add_splits(RawRow& row) {
    double clock_s = 0.0;
    bool lap_missing = false;
    bool good = true;
    for (const std::uint32_t k : order_) {
      const Column& column = file_.columns[k];
      const MarkInfo& mark = log_.marks[column.mark];
      const double at_m = mark.is_move ? 0.0 : log_.mark_m(layout_, column.mark);
      const double time = times_[k];
      if (std::isnan(time)) {
        lap_missing = lap_missing || (!std::isnan(at_m) && is_lap_of_course(mark));
        continue;
      }
      if (!may_stand(k, mark, at_m, row)) {
        good = false;
        continue;
      }
      if (row.laps && lap_missing && row.lap_missing) {
        continue;
      }
      if (row.laps && lap_missing) {
        file_.report.at(record_, range_of(k),
                        {.severity = Severity::note, .code = "missing-lap",
                         .message = "a lap before '" + log_.names.text(column.name) + "' is missing",
                         .expected = "every lap from the start on",
                         .hint = "the times from this mark on are unknown and left out"});
        row.lap_missing = true;
        continue;
      }
      clock_s = row.laps ? clock_s + time : time;
      log_.split_time_s.push_back(clock_s);
      log_.split_mark.push_back(column.mark);
    }
    return good;
  }

  // Whether a lap ends at this mark in every run of the course. A distance nobody pressed at on a base path is no lap of that run; a
  // bag of the course is, and so is every mark of a straight, unless the course has distances of its own.
  bool is_lap_of_course(const MarkInfo& mark) const {
    if (mark.is_move || mark.bag) {
      return !mark.is_move;
    }
    const Course& course = log_.courses[now_.course];
    bool has_distances = false;
    for (const CourseMark& own : course.marks) {
      if (!own.is_bag && std::fabs(own.distance_m - mark.distance_m) < 1e-9) {
        return true;
      }
      has_distances = has_distances || !own.is_bag;
    }
    return !course.is_base_path() && !has_distances;
  }

  bool may_stand(std::size_t k, const MarkInfo& mark, double at_m, const RawRow& row) {
    const Course& course = log_.courses[now_.course];
    const std::string name = log_.names.text(mark.name);
    if (mark.is_move && (row.start == StartKind::self || row.start == StartKind::beam)) {
      file_.report.at(record_, range_of(k),
                      {.code = "move-without-signal", .message = "a 'move' time where the clock starts with the move itself",
                       .expected = "'move' only with the starts signal and contact",
                       .hint = "is the start 'signal'?"});
      return false;
    }
    if (std::isnan(at_m)) {
      std::string bags;
      for (const CourseMark& own : course.marks) {
        bags += (bags.empty() ? "" : ", ") + own.name;
      }
      const bool starts_there = course.is_base_path() && mark.bag == course.bags.front();
      file_.report.at(record_, range_of(k),
                      {.code = "mark-not-on-course", .message = "'" + name + "' is no mark of the course '" + course.name + "'",
                       .expected = bags.empty() ? std::string("distances such as 10yd, 20m") : bags + ", or a distance such as 10yd",
                       .hint = starts_there ? "the run starts there" : ""});
      return false;
    }
    if (!mark.is_move && length_m_ && at_m > *length_m_ * (1.0 + 1e-9)) {
      file_.report.at(record_, range_of(k),
                      {.severity = Severity::suspicion, .code = "mark-beyond-end",
                       .message = "'" + name + "' lies beyond the end of the course '" + course.name + "'",
                       .expected = "at most " + format_number(std::round(*length_m_ * 100.0) / 100.0) + " m"});
    }
    return true;
  }

  RawLog& log_;
  std::uint16_t number_;
  LogFile& file_;
  const ReadOptions& options_;
  CsvReader csv_;
  CsvRecord record_;
  Preamble preamble_;
  Conditions now_;
  Conditions last_;
  std::string last_date_text_;
  Date last_date_{};
  std::vector<double> times_;  // by column; NaN where empty
  std::vector<std::uint32_t> order_;
  std::set<double> unusual_bases_;
  std::optional<double> length_m_;
  std::size_t carried_from_ = 0;
  std::size_t rows_without_base_ = 0;
  CsvRecord first_without_base_;
  std::uint32_t layout_ = 0;
  std::uint32_t layout_course_ = 0;
  double layout_base_m_ = 0.0;
  bool have_layout_ = false;
  bool bad_ = false;
};

}  // namespace

NameId NameTable::id(std::string_view text) {
  if (slots_.size() < 2 * (names_.size() + 1)) {
    grow();
  }
  const std::size_t mask = slots_.size() - 1;
  for (std::size_t at = std::hash<std::string_view>{}(text) & mask;; at = (at + 1) & mask) {
    if (slots_[at] == no_name) {
      slots_[at] = static_cast<NameId>(names_.size());
      names_.emplace_back(text);
      return slots_[at];
    }
    if (names_[slots_[at]] == text) {
      return slots_[at];
    }
  }
}

void NameTable::grow() {
  slots_.assign(std::max<std::size_t>(64, slots_.size() * 4), no_name);
  const std::size_t mask = slots_.size() - 1;
  for (NameId k = 0; k < names_.size(); ++k) {
    std::size_t at = std::hash<std::string_view>{}(names_[k]) & mask;
    while (slots_[at] != no_name) {
      at = (at + 1) & mask;
    }
    slots_[at] = k;
  }
}

std::uint32_t RawLog::layout_of(std::uint16_t course, double base_m) {
  const std::string key = std::to_string(course) + " " + format_number(base_m);
  const auto [at, is_new] = layout_by_key.try_emplace(key, static_cast<std::uint32_t>(layouts.size()));
  if (is_new) {
    layouts.push_back({course, base_m, {}});
  }
  return at->second;
}

double RawLog::mark_m(std::uint32_t layout, std::uint16_t mark) {
  Layout& here = layouts[layout];
  while (here.mark_m.size() <= mark) {
    const MarkInfo& info = marks[here.mark_m.size()];
    double at_m = info.bag ? std::numeric_limits<double>::quiet_NaN() : info.distance_m;
    if (info.bag) {
      const Course& course = courses[here.course];
      for (const CourseMark& own : course.marks) {
        if (own.is_bag && own.name == bag_name(*info.bag)) {
          at_m = distance_m(course, own, here.base_m);
        }
      }
    }
    here.mark_m.push_back(at_m);
  }
  return here.mark_m[mark];
}

void read_rows(RawLog& log, std::uint16_t file, const ReadOptions& options) { RowReader(log, file, options).read(); }

CsvRecord record_of(const RawLog& log, const RawRow& row, const ReadOptions& options) {
  const LogFile& file = log.files[row.file];
  // Only the neighbourhood of the row: a new reader scans its text once.
  CsvReader reader(file.text.substr(row.offset, options.csv.max_record_bytes + 2), options.csv);
  reader.set_delimiter(file.delimiter);
  CsvRecord record;
  reader.seek(0, row.line);
  reader.next(record);
  record.offset = row.offset;
  return record;
}

namespace {

void report_column(RawLog& log, const RawRow& row, const ReadOptions& options, Problem problem,
                   const std::function<bool(const Column&)>& is_it) {
  LogFile& file = log.files[row.file];
  const CsvRecord record = record_of(log, row, options);
  const auto at = std::find_if(file.columns.begin(), file.columns.end(), is_it);
  if (at == file.columns.end()) {
    file.report.on_line(record, std::move(problem));
    return;
  }
  const auto ranges = field_ranges(record.text, file.delimiter);
  const auto k = std::min(static_cast<std::size_t>(at - file.columns.begin()), ranges.size() - 1);
  file.report.at(record, ranges[k], std::move(problem));
}

}  // namespace

void report_mark(RawLog& log, const RawRow& row, std::uint16_t mark, const ReadOptions& options, Problem problem) {
  report_column(log, row, options, std::move(problem),
                [&](const Column& c) { return c.field == Field::mark && c.mark == mark; });
}

void report_field(RawLog& log, const RawRow& row, Field field, const ReadOptions& options, Problem problem) {
  report_column(log, row, options, std::move(problem), [&](const Column& c) { return c.field == field; });
}

}  // namespace bagsplit::runs::detail
