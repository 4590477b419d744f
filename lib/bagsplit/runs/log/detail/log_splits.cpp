#include "bagsplit/runs/log/detail/log_splits.hpp"

#include <algorithm>
#include <cmath>

#include "bagsplit/runs/typed.hpp"
#include "bagsplit/text/eight_bytes.hpp"

namespace bagsplit::runs::detail {

bool SplitReader::read(const text::CsvRecord& record, const Conditions& conditions, const std::vector<double>& times_s,
                       RawRow& row) {
  use_layout(conditions);
  row.first_split = static_cast<std::uint32_t>(log_.splits.size());
  if (!append(record, conditions.start, times_s, row)) {
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
  places_.clear();
  for (const std::uint32_t k : file_.mark_columns) {
    const MarkInfo& mark = log_.marks[file_.columns[k].mark];
    const double at_m = mark.is_move ? 0.0 : log_.mark_m(layout_, file_.columns[k].mark);
    const bool on_course = !std::isnan(at_m);
    places_.push_back({at_m, k, mark.name, mark.is_move, on_course && is_lap_of_course(mark),
                       mark.is_move || !on_course || is_beyond_end(at_m)});
  }
  // `move` first, marks of other courses last.
  std::stable_sort(places_.begin(), places_.end(), [](const Place& a, const Place& b) {
    const double x = a.is_move ? -1.0 : a.at_m;
    const double y = b.is_move ? -1.0 : b.at_m;
    return std::isnan(y) ? !std::isnan(x) : x < y;
  });
}

bool SplitReader::is_beyond_end(double at_m) const {
  constexpr double run_through_m = 5.0;  // a finish some feet past the bag. Common practice, no source
  const bool runs_through = course().is_base_path() && course().finish == Finish::through;
  return length_m_ && at_m > *length_m_ * (1.0 + 1e-9) + (runs_through ? run_through_m : 0.0);
}

bool SplitReader::append(const text::CsvRecord& record, StartKind start, const std::vector<double>& times_s,
                         RawRow& row) {
  double clock_s = 0.0;
  std::uint64_t hash = 0;
  bool lap_missing = false;
  bool good = true;
  for (const Place& place : places_) {
    const double time = times_s[place.column];
    if (std::isnan(time)) {
      lap_missing = lap_missing || place.is_lap;
      continue;
    }
    if (place.doubtful && !may_stand(record, place, start, row)) {
      good = false;
      continue;
    }
    if (row.laps && lap_missing) {
      if (!row.lap_missing) {
        file_.report.at(record, range_of(record, place.column),
                        {.severity = text::Severity::note,
                         .code = "missing-lap",
                         .message = "a lap before '" + log_.names.text(place.mark) + "' is missing",
                         .expected = "every lap from the start on",
                         .hint = "the times from this mark on are unknown and left out"});
      }
      row.lap_missing = true;
      continue;
    }
    clock_s = row.laps ? clock_s + time : time;
    Split& split = log_.splits.emplace_back();
    split.distance_m = place.at_m;
    split.time_s = clock_s;
    split.mark = place.mark;
    split.is_move = place.is_move;
    hash = text::detail::hash_on(hash, text::detail::bits_as<std::uint64_t>(clock_s) ^ place.mark);
  }
  row.times_hash = static_cast<std::uint32_t>(hash);
  return good;
}

// Whether a lap ends at this mark in every run of the course. A distance nobody pressed at on a base path is no lap of
// that run; a bag of the course is, and so is every mark of a straight, unless the course has distances of its own.
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

bool SplitReader::may_stand(const text::CsvRecord& record, const Place& place, StartKind start, RawRow& row) {
  const std::string& name = log_.names.text(place.mark);
  if (place.is_move && (start == StartKind::self || start == StartKind::beam)) {
    file_.report.at(record, range_of(record, place.column),
                    {.code = "move-without-signal",
                     .message = "a 'move' time where the clock starts with the move itself",
                     .expected = "'move' only with the starts signal and contact",
                     .hint = "is the start 'signal'?"});
    return false;
  }
  if (std::isnan(place.at_m)) {
    std::string own;
    for (const CourseMark& mark_of_course : course().marks) {
      own += (own.empty() ? "" : ", ") + mark_of_course.name;
    }
    const MarkInfo& mark = log_.marks[file_.columns[place.column].mark];
    const bool starts_there = course().is_base_path() && mark.bag == course().bags.front();
    file_.report.at(
        record, range_of(record, place.column),
        {.code = "mark-not-on-course",
         .message = "'" + name + "' is no mark of the course '" + course().name + "'",
         .expected = own.empty() ? std::string("distances such as 10yd, 20m") : own + ", or a distance such as 10yd",
         .hint = starts_there ? "the run starts there" : ""});
    return false;
  }
  if (!place.is_move && is_beyond_end(place.at_m)) {
    row.suspicious = true;
    file_.report.at(record, range_of(record, place.column),
                    {.severity = text::Severity::suspicion,
                     .code = "mark-beyond-end",
                     .message = "'" + name + "' lies beyond the end of the course '" + course().name + "'",
                     .expected = "at most " + format_number(std::round(*length_m_ * 100.0) / 100.0) + " m"});
  }
  return true;
}

text::ByteRange SplitReader::range_of(const text::CsvRecord& record, std::size_t column) const {
  const auto ranges = text::field_ranges(record.text, file_.delimiter);
  return ranges[std::min(column, ranges.size() - 1)];
}

}  // namespace bagsplit::runs::detail
