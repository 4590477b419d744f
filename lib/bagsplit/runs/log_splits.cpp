#include "bagsplit/runs/log_splits.hpp"

#include <algorithm>
#include <cmath>

#include "bagsplit/runs/typed.hpp"

namespace bagsplit::runs::detail {

bool SplitReader::read(const CsvRecord& record, const Conditions& conditions, const std::vector<double>& times_s, RawRow& row) {
  use_layout(conditions);
  row.layout = layout_;
  row.first_split = static_cast<std::uint32_t>(log_.splits.size());
  if (!append(record, times_s, row)) {
    log_.splits.resize(row.first_split);
    return false;
  }
  row.split_count = static_cast<std::uint16_t>(log_.splits.size() - row.first_split);
  return true;
}

// Most rows run the course of the row before.
void SplitReader::use_layout(const Conditions& conditions) {
  if (have_layout_ && course_ == conditions.course && base_m_ == conditions.base_m) {
    return;
  }
  layout_ = log_.layout_of(static_cast<std::uint16_t>(conditions.course), conditions.base_m);
  course_ = conditions.course;
  base_m_ = conditions.base_m;
  have_layout_ = true;
  length_m_ = course_length_m(course(), base_m_);
  // `move` first, marks of other courses last.
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
}

bool SplitReader::append(const CsvRecord& record, const std::vector<double>& times_s, RawRow& row) {
  double clock_s = 0.0;
  bool lap_missing = false;
  bool good = true;
  for (const std::uint32_t k : order_) {
    const Column& column = file_.columns[k];
    const MarkInfo& mark = log_.marks[column.mark];
    const double at_m = mark.is_move ? 0.0 : log_.mark_m(layout_, column.mark);
    const double time = times_s[k];
    if (std::isnan(time)) {
      lap_missing = lap_missing || (!std::isnan(at_m) && is_lap_of_course(mark));
      continue;
    }
    if (!may_stand(record, k, mark, at_m, row)) {
      good = false;
      continue;
    }
    if (row.laps && lap_missing) {
      if (!row.lap_missing) {
        file_.report.at(record, range_of(record, k),
                        {.severity = Severity::note, .code = "missing-lap",
                         .message = "a lap before '" + log_.names.text(column.name) + "' is missing",
                         .expected = "every lap from the start on",
                         .hint = "the times from this mark on are unknown and left out"});
      }
      row.lap_missing = true;
      continue;
    }
    clock_s = row.laps ? clock_s + time : time;
    log_.splits.push_back({at_m, clock_s, column.name, mark.is_move});
  }
  return good;
}

// Whether a lap ends at this mark in every run of the course. A distance nobody pressed at on a base path is no lap of that run; a
// bag of the course is, and so is every mark of a straight, unless the course has distances of its own.
bool SplitReader::is_lap_of_course(const MarkInfo& mark) const {
  if (mark.is_move || mark.bag) {
    return !mark.is_move;
  }
  bool has_distances = false;
  for (const CourseMark& own : course().marks) {
    if (!own.is_bag && std::fabs(own.distance_m - mark.distance_m) < 1e-9) {
      return true;
    }
    has_distances = has_distances || !own.is_bag;
  }
  return !course().is_base_path() && !has_distances;
}

bool SplitReader::may_stand(const CsvRecord& record, std::size_t column, const MarkInfo& mark, double at_m, RawRow& row) {
  if (mark.is_move && (row.start == StartKind::self || row.start == StartKind::beam)) {
    file_.report.at(record, range_of(record, column),
                    {.code = "move-without-signal", .message = "a 'move' time where the clock starts with the move itself",
                     .expected = "'move' only with the starts signal and contact",
                     .hint = "is the start 'signal'?"});
    return false;
  }
  if (std::isnan(at_m)) {
    std::string own;
    for (const CourseMark& mark_of_course : course().marks) {
      own += (own.empty() ? "" : ", ") + mark_of_course.name;
    }
    const bool starts_there = course().is_base_path() && mark.bag == course().bags.front();
    file_.report.at(record, range_of(record, column),
                    {.code = "mark-not-on-course",
                     .message = "'" + log_.names.text(mark.name) + "' is no mark of the course '" + course().name + "'",
                     .expected = own.empty() ? std::string("distances such as 10yd, 20m") : own + ", or a distance such as 10yd",
                     .hint = starts_there ? "the run starts there" : ""});
    return false;
  }
  if (!mark.is_move && length_m_ && at_m > *length_m_ * (1.0 + 1e-9)) {
    row.suspicious = true;
    file_.report.at(record, range_of(record, column),
                    {.severity = Severity::suspicion, .code = "mark-beyond-end",
                     .message = "'" + log_.names.text(mark.name) + "' lies beyond the end of the course '" + course().name + "'",
                     .expected = "at most " + format_number(std::round(*length_m_ * 100.0) / 100.0) + " m"});
  }
  return true;
}

ByteRange SplitReader::range_of(const CsvRecord& record, std::size_t column) const {
  const auto ranges = field_ranges(record.text, file_.delimiter);
  return ranges[std::min(column, ranges.size() - 1)];
}

}  // namespace bagsplit::runs::detail
