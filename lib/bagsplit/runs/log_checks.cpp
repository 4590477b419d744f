#include <algorithm>
#include <cmath>

#include "bagsplit/runs/log_rows.hpp"

namespace bagsplit::runs::detail {

namespace {

// One row's times against the course and against what a body can do.
class RowCheck {
 public:
  RowCheck(RawLog& log, const ReadOptions& options) : log_(log), options_(options) {}

  void check(RawRow& row) {
    for (std::uint32_t k = 1; k < row.split_count && !row.bad; ++k) {
      const std::uint32_t at = row.first_split + k;
      const double from_m = mark_m(row, at - 1);
      const double to_m = mark_m(row, at);
      if (to_m > from_m && log_.split_time_s[at] <= log_.split_time_s[at - 1]) {
        report_mark(log_, row, log_.split_mark[at], options_,
                    {.code = "splits-out-of-order",
                     .message = "'" + name(at) + "' is not later than '" + name(at - 1) + "'",
                     .expected = "times that rise along the course",
                     .hint = "are these laps? Then say so: # splits: lap"});
        row.bad = true;
      }
    }
  }

 private:
  double mark_m(const RawRow& row, std::uint32_t at) {
    const std::uint16_t mark = log_.split_mark[at];
    return log_.marks[mark].is_move ? 0.0 : log_.mark_m(row.layout, mark);
  }
  const std::string& name(std::uint32_t at) const { return log_.names.text(log_.marks[log_.split_mark[at]].name); }

  RawLog& log_;
  const ReadOptions& options_;
};

}  // namespace

void check_rows(RawLog& log, const ReadOptions& options) {
  RowCheck check(log, options);
  for (RawRow& row : log.rows) {
    check.check(row);
  }
}

}  // namespace bagsplit::runs::detail
