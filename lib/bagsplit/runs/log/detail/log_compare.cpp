#include "bagsplit/runs/log/detail/log_compare.hpp"

#include <algorithm>
#include <cmath>
#include <optional>

#include "bagsplit/runs/roster/detail/roster_words.hpp"
#include "bagsplit/runs/typed.hpp"

namespace bagsplit::runs::detail {

namespace {

constexpr std::size_t most_readings = 100;  // each is compared with each

bool has_common_mark(const RawLog& log, const RawRow& a, const RawRow& b) {
  const auto theirs = log.splits_of(b);
  const auto ours = log.splits_of(a);
  return std::any_of(ours.begin(), ours.end(), [&](const Split& here) {
    return std::any_of(theirs.begin(), theirs.end(), [&](const Split& there) { return here.mark == there.mark; });
  });
}

// Why one run may be there twice: two children under one bib, a copy, two drills whose trials both count from 1.
std::string why_twice(const RawLog& log, const RawRow& row, const RawRow& before, const ReadOptions& options) {
  const std::string& player = log.names.text(row.player);
  if (options.roster != nullptr && options.roster->find(player) == nullptr &&
      ids_with_bib(*options.roster, player).size() > 1) {
    return bib_or_name_hint(*options.roster, player);
  }
  if (same_times(log, row, before)) {
    return "the times are the same: is the row, or the file, there twice?";
  }
  if (log.setting_of(row).file != log.setting_of(before).file && !has_common_mark(log, row, before)) {
    return "two drills of one evening? a line '# place: ...' of its own above the header of one file parts them";
  }
  return "leave 'trial' empty and each row is a run of its own";
}

bool is_new_timer(RawLog& log, const RawRow& row, std::span<const std::uint32_t> earlier, const ReadOptions& options) {
  for (const std::uint32_t other : earlier) {
    const RawRow& before = log.rows[other];
    if (before.timer != row.timer) {
      continue;
    }
    const bool unnamed = row.timer == no_name;
    const std::string place = place_of(log, before, row);
    report_field(log, row, Field::timer, options,
                 {.code = "repeated-reading",
                  .message = unnamed ? std::string("the same run is timed twice, and no timer is named")
                                     : "the same timer has timed this run on " + place,
                  .expected = unnamed ? "another timer's name, or another trial, than on " + place
                                      : std::string("another timer, or another trial"),
                  .hint = why_twice(log, row, before, options)});
    return false;
  }
  return true;
}

bool has_same_conditions(RawLog& log, const RawRow& row, const RawRow& first, const ReadOptions& options) {
  const auto differ = [&](Field field, bool differs) {
    if (differs) {
      const std::string name(field_names.at(static_cast<std::size_t>(field)));
      report_field(
          log, row, field, options,
          {.code = "conflicting-readings",
           .message = "'" + name + "' is not as on " + place_of(log, first, row) + ", another reading of this run",
           .expected = "the same conditions in all readings of one run",
           .hint = "is it another trial?"});
    }
    return differs;
  };
  const Setting& here = log.setting_of(row);
  const Setting& there = log.setting_of(first);
  const auto other = [](float a, float b) { return !std::isnan(a) && !std::isnan(b) && a != b; };
  return !(differ(Field::posture, here.posture != there.posture) ||
           differ(Field::base_distance, log.layout_of(row).base_m != log.layout_of(first).base_m) ||
           differ(Field::surface, here.surface != there.surface) ||
           differ(Field::wind, other(here.wind_mps, there.wind_mps)) ||
           differ(Field::temperature, other(here.temperature_c, there.temperature_c)));
}

// The first mark at which the two are too far apart.
std::optional<NameId> apart(const RawLog& log, const RawRow& a, const RawRow& b, double limit_s) {
  for (const Split& there : log.splits_of(b)) {
    for (const Split& here : log.splits_of(a)) {
      if (here.mark == there.mark && std::fabs(here.time_s - there.time_s) > limit_s) {
        return there.mark;
      }
    }
  }
  return std::nullopt;
}

}  // namespace

bool fits_run(RawLog& log, const RawRow& row, std::span<const std::uint32_t> earlier, const ReadOptions& options) {
  if (earlier.size() >= most_readings) {
    report_field(log, row, Field::timer, options,
                 {.code = "too-many-readings",
                  .message = "more than " + std::to_string(most_readings) + " readings of one run",
                  .expected = "a few timers for each run",
                  .hint = "leave 'trial' empty and each row is a run of its own"});
    return false;
  }
  return is_new_timer(log, row, earlier, options) && has_same_conditions(log, row, log.rows[earlier.front()], options);
}

void compare_watches(RawLog& log, RawRow& row, std::span<const std::uint32_t> earlier, const ReadOptions& options) {
  const double limit_s = options.limits.watches_apart_s;
  for (const std::uint32_t other : earlier) {
    const RawRow& before = log.rows[other];
    const Setting& here = log.setting_of(row);
    const Setting& there = log.setting_of(before);
    if (there.start != here.start || there.device != here.device || before.flag != Flag::none ||
        row.flag != Flag::none || row.checked || before.checked) {
      continue;
    }
    if (const auto mark = apart(log, before, row, limit_s)) {
      row.suspicious = true;
      report_mark(
          log, row, *mark, options,
          {.severity = text::Severity::suspicion,
           .code = "watches-disagree",
           .message = "another watch on this run, on " + place_of(log, before, row) + ", tells a much different time",
           .expected = "within " + format_number(std::round(limit_s * 100.0) / 100.0) + " s of it",
           .hint = "is it another trial?"});
      return;
    }
  }
}

bool same_times(const RawLog& log, const RawRow& a, const RawRow& b) {
  if (a.times_hash != b.times_hash) {
    return false;
  }
  const auto ours = log.splits_of(a);
  const auto theirs = log.splits_of(b);
  return std::equal(ours.begin(), ours.end(), theirs.begin(), theirs.end(),
                    [](const Split& x, const Split& y) { return x.time_s == y.time_s && x.mark == y.mark; });
}

std::string place_of(const RawLog& log, const RawRow& row, const RawRow& seen_from) {
  const std::string line = "line " + std::to_string(row.line);
  const bool same_file = log.setting_of(row).file == log.setting_of(seen_from).file;
  return same_file ? line : line + " of " + log.file_of(row).report.path();
}

}  // namespace bagsplit::runs::detail
