#pragma once

#include <cstdint>
#include <optional>
#include <vector>

#include "bagsplit/runs/log/detail/log_rows.hpp"

/// Inside the reader: from the times in a row's cells to splits along its course.
namespace bagsplit::runs::detail {

class SplitReader {
 public:
  SplitReader(RawLog& log, LogFile& file) : log_(log), file_(file) {}

  /// Appends the row's splits to the log, laps summed, in the order of the course; sets the row's part of the splits.
  ///
  /// The row's layout is layout() afterwards.
  /// @param times_s  by column of the file; NaN where the cell is empty.
  /// @return false, with nothing appended, when a time stands where none may: those are reported.
  bool read(const text::CsvRecord& record, const Conditions& conditions, const std::vector<double>& times_s,
            RawRow& row);
  std::uint32_t layout() const { return layout_; }

 private:
  /// A mark column of the file, as it lies along the course in use.
  struct Place {
    double at_m = 0.0;  // NaN: not on the course
    std::uint32_t column = 0;
    NameId mark = no_name;
    bool is_move = false;
    bool is_lap = false;    // a lap ends here in every run
    bool doubtful = false;  // a time may be out of place here
  };

  void use_layout(const Conditions& conditions);
  bool append(const text::CsvRecord& record, StartKind start, const std::vector<double>& times_s, RawRow& row);
  bool is_beyond_end(double at_m) const;
  bool is_lap_of_course(const MarkInfo& mark) const;
  bool may_stand(const text::CsvRecord& record, const Place& place, StartKind start, RawRow& row);
  text::ByteRange range_of(const text::CsvRecord& record, std::size_t column) const;
  const Course& course() const { return log_.courses[course_]; }

  RawLog& log_;
  LogFile& file_;
  std::vector<Place> places_;  // along the course
  std::optional<double> length_m_;
  std::uint32_t layout_ = 0;
  std::uint32_t course_ = 0;
  double base_m_ = 0.0;
  bool have_layout_ = false;
};

}  // namespace bagsplit::runs::detail
