#include "bagsplit/runs/log/detail/log_cells.hpp"

#include <algorithm>
#include <cmath>

#include "bagsplit/runs/log/file_columns.hpp"
#include "bagsplit/runs/units.hpp"
#include "bagsplit/runs/words.hpp"
#include "bagsplit/text/text.hpp"

namespace bagsplit::runs::detail {

namespace {

constexpr std::array yes_or_no{std::string_view("yes"), std::string_view("no")};
constexpr std::array split_words{std::string_view("cumulative"), std::string_view("lap")};

// In the order of Field.
constexpr std::array<ColumnWords, named_fields> log_table{{
    {"date", "year, month, day: 2026-04-11; or 11-Apr-2026; in another order with a line '# dates: dmy'", {}, true},
    {"player", "the player's id as in the roster, not the bib, not the name", {}, true},
    {"course", "what was run: straight, home-first, circuit and so on, or a course of your own", {}, true},
    {"trial", "the run's number on that date and course, from 1; left empty, each row is a run of its own"},
    {"team", "the relay team"},
    {"leg", "the relay leg, 1 to 99; nothing for a run that is no relay"},
    {"place", "where; runs of one date at two places are kept apart"},
    {"timer", "who held the watch, or which gate set: several timers of one run are several rows"},
    {"device", "what timed the run; left out, a stopwatch", device_words},
    {"start",
     "what started the clock: the call, the first move, a beam and how far behind it the player stood (beam 0.5 m: "
     "then "
     "marks count from the beam), or the bat; left out, signal",
     start_words},
    {"posture", "how the player stood; left out, standing", posture_words},
    {"splits", "whether times count from the start or from the mark before; left out, cumulative", split_words},
    {"base-distance", "between the bags, with its unit: 60 ft, 20 yd, 18.288 m; needed along the bases"},
    {"surface", "such as grass, turf, dirt"},
    {"wind", "m/s, positive from behind; or with its unit: 5 mph, 8 km/h"},
    {"temperature", "degrees Celsius; or with F: 64 F"},
    {"flag", "why the run does not count: it stays in the record and out of the estimates", flag_words},
    {"note", "anything"},
    {"checked", "yes: the times of this row look odd and are right; they are not asked about again", yes_or_no},
}};

constexpr std::array<std::string_view, named_fields> names_of_log_table() {
  std::array<std::string_view, named_fields> names;
  for (std::size_t k = 0; k < named_fields; ++k) {
    names[k] = log_table[k].name;
  }
  return names;
}

}  // namespace

const std::array<std::string_view, named_fields> field_names = names_of_log_table();

namespace {

constexpr std::size_t longest_id = 200;  // bytes of an id, a place or the like
constexpr std::size_t longest_note = 4000;

// The index of the word in `words`, or a fault that names the nearest.
template <std::size_t N>
CellFault read_word(std::string_view name, std::string_view text, const std::array<std::string_view, N>& words,
                    std::size_t& index) {
  for (index = 0; index < N; ++index) {
    if (text::equal_ignoring_case(text, words[index])) {
      return {};
    }
  }
  const auto near = text::nearest(text, words);
  return {"unknown-word", "'" + std::string(name) + "' has no such word", text::list_of(words),
          near ? "'" + std::string(*near) + "' may be meant" : std::string()};
}

bool has_control(std::string_view text) {
  return std::any_of(text.begin(), text.end(),
                     [](char c) { return static_cast<unsigned char>(c) < 0x20 || c == 0x7F; });
}

CellFault read_id(std::string_view name, std::string_view text, std::size_t longest, RawLog& log, NameId& id) {
  if (id != no_name && log.names.text(id) == text) {
    return {};  // as in the default or the row before
  }
  const bool is_note = name == "note";
  if (text.size() > longest || (!is_note && has_control(text))) {
    return {"bad-text",
            "'" + std::string(name) + "' is too long or holds line ends or control characters",
            "at most " + std::to_string(longest) + " bytes of plain text",
            {}};
  }
  id = log.names.id(text);
  return {};
}

CellFault bad_length(std::string_view name, std::string_view text) {
  const bool bare = parse_decimal(text, true).has_value();
  return {
      "bad-length", "'" + std::string(name) + "' is not a length", "a number with ft, yd or m, such as 60 ft",
      bare ? "the unit is missing: " + std::string(text) + " ft, or " + std::string(text) + " m?" : feet_hint(text)};
}

CellFault read_base_distance(std::string_view text, double& base_m) {
  constexpr double shortest = 1.0;
  constexpr double longest = 100.0;
  const auto length = parse_length_m(text);
  if (!length) {
    return bad_length("base-distance", text);
  }
  if (*length < shortest || *length > longest) {
    return {"bad-length", "'base-distance' is no distance between bags", "1 m to 100 m, such as 60 ft", {}};
  }
  base_m = *length;
  return {};
}

CellFault read_start(std::string_view text, Conditions& conditions) {
  const std::size_t blank = std::min(text.find_first_of(" \t"), text.size());
  std::size_t index = 0;
  CellFault fault = read_word("start", text.substr(0, blank), start_words, index);
  if (!fault.code.empty()) {
    fault.expected = "signal, self, contact, or beam with its distance: beam 0.5 m";
    return fault;
  }
  const auto start = static_cast<StartKind>(index == 0   ? StartKind::signal
                                            : index == 1 ? StartKind::self
                                            : index == 2 ? StartKind::beam
                                                         : StartKind::contact);
  const std::string_view rest = text::trim(text.substr(blank));
  if (start == StartKind::beam) {
    const auto length = parse_length_m(rest);
    if (!length || *length > 50.0) {
      return {"bad-start", "a beam start without the beam's distance",
              "beam 0.5 m: how far the runner stands behind the beam",
              rest.empty() ? "say how far behind the first beam the runner starts" : std::string()};
    }
    conditions.beam_m = *length;
  } else if (!rest.empty()) {
    return {"bad-start",
            "text after the kind of start",
            "signal, self, contact, or beam with its distance: beam 0.5 m",
            {}};
  } else {
    conditions.beam_m = 0.0;
  }
  conditions.start = start;
  return {};
}

CellFault read_quantity(std::string_view name, std::string_view text, bool decimal_comma, double low, double high,
                        std::string_view expected, double& value) {
  const auto number = parse_decimal(text, decimal_comma);
  if (!number || *number < low || *number > high) {
    return {"bad-number", "'" + std::string(name) + "' is not a number it can be", std::string(expected), {}};
  }
  value = *number;
  return {};
}

CellFault read_wind(std::string_view text, bool decimal_comma, float& wind_mps) {
  double factor = 1.0;
  for (const auto& [unit, mps] : {std::pair(std::string_view("km/h"), 1000.0 / seconds_per_hour),
                                  std::pair(std::string_view("mph"), metres_per_mile / seconds_per_hour),
                                  std::pair(std::string_view("m/s"), 1.0)}) {
    if (text.ends_with(unit)) {
      text = text::trim(text.substr(0, text.size() - unit.size()));
      factor = mps;
      break;
    }
  }
  double value = 0.0;
  CellFault fault =
      read_quantity("wind", text, decimal_comma, -40.0 / factor, 40.0 / factor,
                    "m/s, positive from behind, such as 1.2 or -0.8; or with its unit: 5 mph, 8 km/h", value);
  if (fault.code.empty()) {
    wind_mps = static_cast<float>(value * factor);
  }
  return fault;
}

CellFault read_temperature(std::string_view text, bool decimal_comma, float& temperature_c) {
  bool fahrenheit = false;
  for (const std::string_view unit : {"\xC2\xB0"
                                      "C",
                                      "\xC2\xB0"
                                      "F",
                                      "C", "F"}) {
    if (text.ends_with(unit)) {
      fahrenheit = unit.back() == 'F';
      text = text::trim(text.substr(0, text.size() - unit.size()));
      break;
    }
  }
  double value = 0.0;
  CellFault fault = read_quantity("temperature", text, decimal_comma, fahrenheit ? -76.0 : -60.0,
                                  fahrenheit ? 140.0 : 60.0, "degrees Celsius, such as 18, or with F: 64 F", value);
  if (fault.code.empty()) {
    temperature_c = static_cast<float>(fahrenheit ? (value - 32.0) * 5.0 / 9.0 : value);
  } else if (!fahrenheit && parse_decimal(text, decimal_comma).value_or(0.0) > 60.0) {
    fault.hint = "degrees Fahrenheit need their letter: " + std::string(text) + " F";
  }
  return fault;
}

CellFault read_course(std::string_view text, const RawLog& log, std::uint32_t& course) {
  if (course != no_name && log.courses[course].name == text) {
    return {};
  }
  if (const Course* found = find_course(log.courses, text)) {
    course = static_cast<std::uint32_t>(found - log.courses.data());
    return {};
  }
  std::vector<std::string_view> names;
  for (const Course& known : log.courses) {
    names.push_back(known.name);
  }
  const auto near = text::nearest(text, names);
  return {"unknown-course", "there is no such course",
          "straight, home-first, home-second, circuit, ...; or one defined in a course file",
          near ? "'" + std::string(*near) + "' may be meant" : std::string()};
}

CellFault read_date(std::string_view text, DateOrder order, Conditions& conditions) {
  if (const auto date = parse_date(text, order)) {
    conditions.date = *date;
    conditions.has_date = true;
    return {};
  }
  return {"bad-date", "'date' is not a date",
          order == DateOrder::iso   ? "year, month, day: 2026-04-11"
          : order == DateOrder::dmy ? "day, month, year: 11/04/2026"
                                    : "month, day, year: 04/11/2026",
          date_hint(text, order)};
}

CellFault read_small(std::string_view name, std::string_view text, unsigned high, std::uint16_t& value) {
  const auto count = parse_count(text, 1, high);
  if (!count) {
    return {"bad-number",
            "'" + std::string(name) + "' is not a number it can be",
            "a whole number from 1 to " + std::to_string(high),
            {}};
  }
  value = static_cast<std::uint16_t>(*count);
  return {};
}

constexpr double usual_base_low_m = 30.0 * metres_per_foot;
constexpr double usual_base_high_m = 100.0 * metres_per_foot;

}  // namespace

std::optional<text::Problem> unusual_base_distance(double base_m) {
  if (base_m >= usual_base_low_m && base_m <= usual_base_high_m) {
    return std::nullopt;
  }
  return text::Problem{
      .severity = text::Severity::suspicion,
      .code = "unusual-base-distance",
      .message = "bags " + format_number(std::round(base_m / metres_per_foot * 10.0) / 10.0) + " ft apart",
      .expected = "30 ft to 100 ft",
      .hint = base_m > usual_base_high_m ? "are feet meant, and metres typed?" : "are metres meant, and feet typed?"};
}

Field field_of_name(std::string_view name) {
  const auto it =
      std::find_if(field_names.begin(), field_names.end(), [&](auto n) { return text::equal_ignoring_case(n, name); });
  return it == field_names.end() ? Field::none : static_cast<Field>(it - field_names.begin());
}

CellFault read_field(Field field, std::string_view text, RawLog& log, const LogFile& file, Conditions& conditions) {
  const bool decimal_comma = file.delimiter != ',';
  std::size_t index = 0;
  CellFault fault;
  switch (field) {
    case Field::date:
      return read_date(text, file.dates, conditions);
    case Field::player:
      return read_id("player", text, longest_id, log, conditions.player);
    case Field::course:
      return read_course(text, log, conditions.course);
    case Field::trial:
      return read_small("trial", text, 65535, conditions.trial);
    case Field::team:
      return read_id("team", text, longest_id, log, conditions.team);
    case Field::leg:
      return read_small("leg", text, 99, conditions.leg);
    case Field::place:
      return read_id("place", text, longest_id, log, conditions.place);
    case Field::timer:
      return read_id("timer", text, longest_id, log, conditions.timer);
    case Field::device:
      fault = read_word("device", text, device_words, index);
      conditions.device = fault.code.empty() ? static_cast<Device>(index) : conditions.device;
      return fault;
    case Field::start:
      return read_start(text, conditions);
    case Field::posture:
      fault = read_word("posture", text, posture_words, index);
      conditions.posture = fault.code.empty() ? static_cast<Posture>(index) : conditions.posture;
      return fault;
    case Field::splits:
      fault = read_word("splits", text, split_words, index);
      conditions.laps = fault.code.empty() ? index == 1 : conditions.laps;
      return fault;
    case Field::base_distance:
      return read_base_distance(text, conditions.base_m);
    case Field::surface:
      return read_id("surface", text, longest_id, log, conditions.surface);
    case Field::wind:
      return read_wind(text, decimal_comma, conditions.wind_mps);
    case Field::temperature:
      return read_temperature(text, decimal_comma, conditions.temperature_c);
    case Field::flag:
      fault = read_word("flag", text, flag_words, index);
      conditions.flag = fault.code.empty() ? static_cast<Flag>(index + 1) : conditions.flag;
      return fault;
    case Field::note:
      return read_id("note", text, longest_note, log, conditions.note);
    case Field::checked:
      fault = read_word("checked", text, yes_or_no, index);
      conditions.checked = fault.code.empty() ? index == 0 : conditions.checked;
      return fault;
    case Field::mark:
    case Field::carried:
    case Field::none:
      break;
  }
  return {};
}

void set_default(Field field, const Conditions& defaults, Conditions& conditions) {
  switch (field) {
    case Field::date:
      conditions.date = defaults.date;
      conditions.has_date = defaults.has_date;
      break;
    case Field::player:
      conditions.player = defaults.player;
      break;
    case Field::course:
      conditions.course = defaults.course;
      break;
    case Field::trial:
      conditions.trial = defaults.trial;
      break;
    case Field::team:
      conditions.team = defaults.team;
      break;
    case Field::leg:
      conditions.leg = defaults.leg;
      break;
    case Field::place:
      conditions.place = defaults.place;
      break;
    case Field::timer:
      conditions.timer = defaults.timer;
      break;
    case Field::device:
      conditions.device = defaults.device;
      break;
    case Field::start:
      conditions.start = defaults.start;
      conditions.beam_m = defaults.beam_m;
      break;
    case Field::posture:
      conditions.posture = defaults.posture;
      break;
    case Field::splits:
      conditions.laps = defaults.laps;
      break;
    case Field::base_distance:
      conditions.base_m = defaults.base_m;
      break;
    case Field::surface:
      conditions.surface = defaults.surface;
      break;
    case Field::wind:
      conditions.wind_mps = defaults.wind_mps;
      break;
    case Field::temperature:
      conditions.temperature_c = defaults.temperature_c;
      break;
    case Field::flag:
      conditions.flag = defaults.flag;
      break;
    case Field::note:
      conditions.note = defaults.note;
      break;
    case Field::checked:
      conditions.checked = defaults.checked;
      break;
    case Field::mark:
    case Field::carried:
    case Field::none:
      break;
  }
}

std::string feet_hint(std::string_view text) {
  for (const std::string_view mark : {"'", "\u2019", "\u2032"}) {
    const std::string_view number = text::trim(text.substr(0, text.size() - std::min(mark.size(), text.size())));
    if (text.ends_with(mark) && parse_decimal(number, true)) {
      return "feet are written so: " + std::string(number) + " ft";
    }
  }
  return {};
}

CellFault time_fault(std::string_view column, std::string_view text, bool decimal_comma) {
  if (column == "move" && text.starts_with('-') && parse_time_s(text.substr(1), decimal_comma)) {
    return {"bad-time",
            "a first move long before the call",
            "at most " + format_number(-earliest_move_s) + " s before it, such as -0.20",
            {}};
  }
  return {"bad-time", "'" + std::string(column) + "' is not a time",
          "seconds such as 4.05, or minutes and seconds such as 1:04.05", time_hint(text, decimal_comma)};
}

}  // namespace bagsplit::runs::detail

namespace bagsplit::runs {

std::span<const ColumnWords> log_columns() {
  return detail::log_table;
}

}  // namespace bagsplit::runs
