#include <algorithm>
#include <functional>

#include "bagsplit/runs/log/detail/log_rows.hpp"
#include "bagsplit/runs/typed.hpp"
#include "bagsplit/runs/units.hpp"
#include "bagsplit/text/decimal_comma.hpp"
#include "bagsplit/text/eight_bytes.hpp"
#include "bagsplit/text/text.hpp"

namespace bagsplit::runs::detail {

NameId NameTable::id(std::string_view text) {
  if (slots_.size() < 2 * (names_.size() + 1)) {
    grow();
  }
  const std::size_t mask = slots_.size() - 1;
  for (std::size_t at = std::hash<std::string_view>{}(text)&mask;; at = (at + 1) & mask) {
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

namespace {

constexpr double longest_mark_m = 10'000.0;

// 20' and its typographic kin.
bool is_feet_mark(std::string_view word) {
  return word == "'" || word == "\u2019" || word == "\u2032";
}

// One name for one distance, however its unit and decimal mark are typed: `10yards` is `10yd`, `9,14m` is `9.14m`.
std::string short_distance(std::string name) {
  name = text::with_decimal_point(name);
  const std::size_t unit = std::min(name.find_first_not_of("0123456789."), name.size());
  const std::string_view word = std::string_view(name).substr(unit);
  const std::string_view shorter = word.starts_with("me")                        ? "m"
                                   : word.starts_with("f") || is_feet_mark(word) ? "ft"
                                   : word.starts_with("y")                       ? "yd"
                                                                                 : word;
  return name.substr(0, unit) + std::string(shorter);
}

}  // namespace

std::optional<std::uint16_t> RawLog::mark_number(std::string_view name) {
  std::string canonical = text::lower(name);
  std::erase(canonical, ' ');
  MarkInfo mark;
  mark.is_move = canonical == "move";
  mark.bag = bag_of_name(canonical);
  if (!mark.is_move && !mark.bag) {
    const auto length = parse_length_m(canonical);
    if (!length || *length <= 0.0 || *length > longest_mark_m) {
      return std::nullopt;
    }
    mark.distance_m = *length;
    canonical = short_distance(std::move(canonical));
  }
  const auto [at, is_new] = mark_by_name.try_emplace(canonical, static_cast<std::uint16_t>(marks.size()));
  if (is_new) {
    mark.name = names.id(canonical);
    marks.push_back(mark);
  }
  return at->second;
}

std::uint32_t RawLog::layout_of(std::uint16_t course, double base_m) {
  const std::string key = std::to_string(course) + " " + format_number(base_m);
  const auto [at, is_new] = layout_by_key.try_emplace(key, static_cast<std::uint32_t>(layouts.size()));
  if (is_new) {
    layouts.push_back({course, base_m, {}});
  }
  return at->second;
}

std::uint32_t RawLog::setting_number(const Setting& s) {
  const auto bits = [](float value) { return text::detail::bits_as<std::uint32_t>(value); };
  const SettingBits all{(std::uint64_t{s.layout} << 32U) | s.place,
                        (std::uint64_t{s.team} << 32U) | s.surface,
                        text::detail::bits_as<std::uint64_t>(s.beam_m),
                        (std::uint64_t{bits(s.wind_mps)} << 32U) | bits(s.temperature_c),
                        s.file,
                        (static_cast<std::uint64_t>(s.signal) << 24U) | (static_cast<std::uint64_t>(s.device) << 16U) |
                            (static_cast<std::uint64_t>(s.start) << 8U) | static_cast<std::uint64_t>(s.posture)};
  const auto [at, is_new] = number_of_setting.try_emplace(all, static_cast<std::uint32_t>(settings.size()));
  if (is_new) {
    settings.push_back(s);
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

text::CsvRecord record_of(const RawLog& log, const RawRow& row, const ReadOptions& options) {
  const LogFile& file = log.file_of(row);
  const std::string_view rest = file.text.substr(row.offset, options.csv.max_record_bytes + 2);
  text::CsvRecord record{rest.substr(0, rest.find_first_of("\r\n")), row.offset, row.line, text::CsvFault::none, 0};
  if (record.text.find('"') != std::string_view::npos) {  // it may reach over several lines
    text::CsvReader reader(rest, options.csv);
    reader.set_delimiter(file.delimiter);
    reader.seek(0, row.line);
    reader.next(record);
    record.offset = row.offset;
  }
  return record;
}

namespace {

void report_column(RawLog& log, const RawRow& row, const ReadOptions& options, text::Problem problem,
                   const std::function<bool(const Column&)>& is_it) {
  LogFile& file = log.file_of(row);
  if (file.report.leaves_out(problem)) {
    return;
  }
  const text::CsvRecord record = record_of(log, row, options);
  const auto at = std::find_if(file.columns.begin(), file.columns.end(), is_it);
  if (at == file.columns.end()) {
    file.report.on_line(record, std::move(problem));
    return;
  }
  const auto ranges = text::field_ranges(record.text, file.delimiter);
  const auto k = std::min(static_cast<std::size_t>(at - file.columns.begin()), ranges.size() - 1);
  file.report.at(record, ranges[k], std::move(problem));
}

}  // namespace

void report_mark(RawLog& log, const RawRow& row, NameId mark, const ReadOptions& options, text::Problem problem) {
  report_column(log, row, options, std::move(problem),
                [&](const Column& c) { return c.field == Field::mark && c.name == mark; });
}

void report_field(RawLog& log, const RawRow& row, Field field, const ReadOptions& options, text::Problem problem) {
  report_column(log, row, options, std::move(problem), [&](const Column& c) { return c.field == field; });
}

}  // namespace bagsplit::runs::detail
