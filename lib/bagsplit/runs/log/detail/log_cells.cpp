#include "bagsplit/runs/log/detail/log_cells.hpp"

#include <algorithm>
#include <cmath>

#include "bagsplit/runs/log/detail/flag_of_word.hpp"
#include "bagsplit/runs/log/file_columns.hpp"
#include "bagsplit/runs/units.hpp"
#include "bagsplit/runs/words.hpp"
#include "bagsplit/text/text.hpp"

namespace bagsplit::runs::detail {

namespace {

constexpr std::array way_words{std::string_view("first"), std::string_view("third")};
constexpr std::array tie_words{std::string_view("called"), std::string_view("never")};
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
    {"way", "of an out-and-back relay told in one row: by way of which bag the team's first leg goes to second",
     way_words},
    {"runners",
     "of such a row: the team's players in the order in which they ran, parted by blanks. Odd legs run from home to "
     "second, even ones from second home"},
    {"clock",
     "of such a row: what the team's watch read at each exchange and at the finish, parted by blanks, - where nobody "
     "looked; or at the finish alone"},
    {"heat", "which heat of that date, place and course: rows with the same one started on one call"},
    {"finish",
     "in which place it came in, 1, 2, 3 and so on: equal numbers are a tie, empty is behind all who have one. A time "
     "taken only of who came first belongs in a heat"},
    {"finish-at", "the mark where the order was seen; left out, the end of the course or the only mark with a time"},
    {"finish-ties", "whether who judges the order writes ties; left out, called by who has written any", tie_words},
    {"drill", "what was done, by name: course, start, posture and who gives the signal follow; see Drills below"},
    {"place", "where; runs of one date at two places are kept apart"},
    {"timer", "who held the watch, or which gate set: several timers of one run are several rows"},
    {"device", "what timed the run; left out, a stopwatch", device_words},
    {"start",
     "what started the clock: the call, the first move, a beam and how far behind it the player stood (beam 0.5 m: "
     "then "
     "marks count from the beam), or the bat; left out, signal",
     start_words},
    {"signal",
     "who gives it: mine where whoever holds the watch calls, other where somebody else does, gun for a shot or a clap",
     signal_words},
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

// The word's value, by its place among `words`; `value` stays where there is no such word.
template <class Value, std::size_t N>
CellFault read_choice(std::string_view name, std::string_view text, const std::array<std::string_view, N>& words,
                      Value& value, std::size_t first = 0) {
  std::size_t index = 0;
  CellFault fault = read_word(name, text, words, index);
  value = fault.code.empty() ? static_cast<Value>(index + first) : value;
  return fault;
}

bool has_control(std::string_view text) {
  return std::any_of(text.begin(), text.end(),
                     [](char c) { return static_cast<unsigned char>(c) < 0x20 || c == 0x7F; });
}

CellFault read_checked(std::string_view text, bool& checked) {
  std::size_t index = 0;
  CellFault fault = read_word("checked", text, yes_or_no, index);
  checked = fault.code.empty() ? index == 0 : checked;
  return fault;
}

CellFault read_flag(std::string_view text, Flag& flag) {
  if (const auto word = flag_of_word(text)) {
    flag = *word;
    return {};
  }
  CellFault fault = read_choice("flag", text, flag_words, flag);
  fault.hint = did_not_finish(text) ? std::string(which_flag) : fault.hint;
  return fault;
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
  return {"bad-length", "'" + std::string(name) + "' is not a length", "a number with ft, yd or m, such as 60 ft",
          bare ? "the unit is missing: " + std::string(text) + " ft, or " + std::string(text) + " m?" : std::string()};
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

// What coaches write for a course: small letters, one blank between words.
std::string_view course_of_words(std::string_view text) {
  constexpr std::array<std::pair<std::string_view, std::string_view>, 14> others{{{"once around", "circuit"},
                                                                                  {"once round", "circuit"},
                                                                                  {"once-around", "circuit"},
                                                                                  {"once-round", "circuit"},
                                                                                  {"around the bases", "circuit"},
                                                                                  {"round the bases", "circuit"},
                                                                                  {"home to home", "circuit"},
                                                                                  {"home to first", "home-first"},
                                                                                  {"home to 1st", "home-first"},
                                                                                  {"home to second", "home-second"},
                                                                                  {"home to 2nd", "home-second"},
                                                                                  {"home to third", "home-third"},
                                                                                  {"first to third", "first-third"},
                                                                                  {"second to home", "second-home"}}};
  const auto found = std::find_if(others.begin(), others.end(),
                                  [&](const auto& pair) { return text::equal_ignoring_case(pair.first, text); });
  return found == others.end() ? std::string_view{} : found->second;
}

// The lines to type where something else than a course stands there; empty where nothing is known.
std::string no_course_hint(std::string_view text, const RawLog& log) {
  for (const std::string_view posture : posture_words) {
    if (text::equal_ignoring_case(text, posture)) {
      return "'" + std::string(posture) + "' is how a run begins: write '# posture: " + std::string(posture) +
             "' above the header, and the course straight" +
             (posture == "prone" ? "; or both as '# drill: rise-and-run'" : "");
    }
  }
  if (const Drill* drill = find_drill(log.drills, text)) {
    return "it is a drill: write '# drill: " + drill->name + "' above the header";
  }
  return {};
}

CellFault read_course(std::string_view text, const RawLog& log, std::uint32_t& course) {
  if (course != no_name && log.courses[course].name == text) {
    return {};
  }
  if (const Course* found = find_course(log.courses, text)) {
    course = static_cast<std::uint32_t>(found - log.courses.data());
    return {};
  }
  if (const Course* found = find_course(log.courses, course_of_words(text))) {
    course = static_cast<std::uint32_t>(found - log.courses.data());
    return {};
  }
  if (std::string hint = no_course_hint(text, log); !hint.empty()) {
    return {"unknown-course", "this is not a course", "straight, home-first, home-second, circuit, ...",
            std::move(hint)};
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

CellFault read_drill(std::string_view text, const RawLog& log, std::uint16_t& drill) {
  if (const Drill* found = find_drill(log.drills, text)) {
    drill = static_cast<std::uint16_t>(found - log.drills.data());
    return {};
  }
  std::vector<std::string_view> names;
  for (const Drill& known : log.drills) {
    names.push_back(known.name);
  }
  const auto near = text::nearest(text, names);
  return {"unknown-drill", "there is no such drill", text::list_of(names) + "; or one defined in a course file",
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

CellFault read_finish_at(std::string_view text, RawLog& log, std::uint16_t& mark) {
  const auto number = log.mark_number(text);
  if (!number || log.marks[*number].is_move) {
    return {"unknown-word", "'finish-at' is no mark", "a bag such as home, or a distance such as 15 yd", {}};
  }
  mark = *number;
  return {};
}

constexpr double usual_base_low_m = 30.0 * metres_per_foot;
constexpr double usual_base_high_m = 100.0 * metres_per_foot;

}  // namespace

CellFault apply_drill(RawLog& log, Conditions& conditions) {
  if (conditions.drill == no_drill) {
    return {};
  }
  const Drill& drill = log.drills[conditions.drill];
  conditions.start = conditions.start_said ? conditions.start : drill.start;
  conditions.posture = conditions.posture_said ? conditions.posture : drill.posture;
  conditions.signal = conditions.signal == Signal::unsaid ? drill.signal : conditions.signal;
  return conditions.course == no_name ? read_course(drill.course, log, conditions.course) : CellFault{};
}

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
    case Field::way:
      return read_choice("way", text, way_words, conditions.way, 1);
    case Field::runners:
      return read_id("runners", text, longest_note, log, conditions.runners);
    case Field::clock:
      return read_id("clock", text, longest_note, log, conditions.clock);
    case Field::heat:
      return read_id("heat", text, longest_id, log, conditions.heat);
    case Field::finish:
      return read_small("finish", text, 99, conditions.finish);
    case Field::finish_at:
      return read_finish_at(text, log, conditions.finish_mark);
    case Field::finish_ties:
      return read_choice("finish-ties", text, tie_words, conditions.ties, static_cast<std::size_t>(Ties::called));
    case Field::drill:
      return read_drill(text, log, conditions.drill);
    case Field::place:
      return read_id("place", text, longest_id, log, conditions.place);
    case Field::timer:
      return read_id("timer", text, longest_id, log, conditions.timer);
    case Field::device:
      return read_choice("device", text, device_words, conditions.device);
    case Field::start:
      conditions.start_said = true;
      return read_start(text, conditions);
    case Field::signal:
      return read_choice("signal", text, signal_words, conditions.signal, 1);
    case Field::posture:
      conditions.posture_said = true;
      return read_choice("posture", text, posture_words, conditions.posture);
    case Field::splits:
      return read_choice("splits", text, split_words, conditions.laps);
    case Field::base_distance:
      return read_base_distance(text, conditions.base_m);
    case Field::surface:
      return read_id("surface", text, longest_id, log, conditions.surface);
    case Field::wind:
      return read_wind(text, decimal_comma, conditions.wind_mps);
    case Field::temperature:
      return read_temperature(text, decimal_comma, conditions.temperature_c);
    case Field::flag:
      return read_flag(text, conditions.flag);
    case Field::note:
      return read_id("note", text, longest_note, log, conditions.note);
    case Field::checked:
      return read_checked(text, conditions.checked);
    case Field::mark:
    case Field::carried:
    case Field::none:
      break;
  }
  return {};
}

void set_default(Field field, const Conditions& defaults, Conditions& conditions) {
  const auto take = [&](auto... members) { ((conditions.*members = defaults.*members), ...); };
  switch (field) {
    case Field::date:
      return take(&Conditions::date, &Conditions::has_date);
    case Field::player:
      return take(&Conditions::player);
    case Field::course:
      return take(&Conditions::course);
    case Field::trial:
      return take(&Conditions::trial);
    case Field::team:
      return take(&Conditions::team);
    case Field::leg:
      return take(&Conditions::leg);
    case Field::way:
      return take(&Conditions::way);
    case Field::runners:
      return take(&Conditions::runners);
    case Field::clock:
      return take(&Conditions::clock);
    case Field::heat:
      return take(&Conditions::heat);
    case Field::finish:
      return take(&Conditions::finish);
    case Field::finish_at:
      return take(&Conditions::finish_mark);
    case Field::finish_ties:
      return take(&Conditions::ties);
    case Field::drill:
      return take(&Conditions::drill);
    case Field::signal:
      return take(&Conditions::signal);
    case Field::place:
      return take(&Conditions::place);
    case Field::timer:
      return take(&Conditions::timer);
    case Field::device:
      return take(&Conditions::device);
    case Field::start:
      return take(&Conditions::start, &Conditions::start_said, &Conditions::beam_m);
    case Field::posture:
      return take(&Conditions::posture, &Conditions::posture_said);
    case Field::splits:
      return take(&Conditions::laps);
    case Field::base_distance:
      return take(&Conditions::base_m);
    case Field::surface:
      return take(&Conditions::surface);
    case Field::wind:
      return take(&Conditions::wind_mps);
    case Field::temperature:
      return take(&Conditions::temperature_c);
    case Field::flag:
      return take(&Conditions::flag);
    case Field::note:
      return take(&Conditions::note);
    case Field::checked:
      return take(&Conditions::checked);
    case Field::mark:
    case Field::carried:
    case Field::none:
      break;
  }
}

bool did_not_finish(std::string_view text) {
  return text::equal_ignoring_case(text, "dnf") || text::equal_ignoring_case(text, "did not finish");
}

CellFault time_fault(std::string_view column, std::string_view text, bool decimal_comma) {
  if (column == "move" && text.starts_with('-') && parse_time_s(text.substr(1), decimal_comma)) {
    return {"bad-time",
            "a first move long before the call",
            "at most " + format_number(-earliest_move_s) + " s before it, such as -0.20",
            {}};
  }
  if (did_not_finish(text)) {
    return {"bad-time", "'" + std::string(column) + "' is not a time", "an empty cell, and why in the column flag",
            std::string(which_flag)};
  }
  return {"bad-time", "'" + std::string(column) + "' is not a time",
          "seconds such as 4.05, or minutes and seconds such as 1:04.05", time_hint(text, decimal_comma)};
}

}  // namespace bagsplit::runs::detail

namespace bagsplit::runs {

std::span<const ColumnWords> log_columns() {
  return detail::log_table;
}

std::optional<Flag> flag_of_word(std::string_view text) {
  constexpr std::array<std::pair<std::string_view, Flag>, 24> words{{{"false-start", Flag::false_start},
                                                                     {"false start", Flag::false_start},
                                                                     {"fs", Flag::false_start},
                                                                     {"jumped", Flag::false_start},
                                                                     {"fall", Flag::fall},
                                                                     {"fell", Flag::fall},
                                                                     {"slipped", Flag::fall},
                                                                     {"f", Flag::fall},
                                                                     {"missed-bag", Flag::missed_bag},
                                                                     {"missed bag", Flag::missed_bag},
                                                                     {"m", Flag::missed_bag},
                                                                     {"obstructed", Flag::obstructed},
                                                                     {"blocked", Flag::obstructed},
                                                                     {"o", Flag::obstructed},
                                                                     {"void", Flag::void_run},
                                                                     {"v", Flag::void_run},
                                                                     {"absent", Flag::absent},
                                                                     {"abs", Flag::absent},
                                                                     {"a", Flag::absent},
                                                                     {"dns", Flag::absent},
                                                                     {"did not run", Flag::absent},
                                                                     {"away", Flag::absent},
                                                                     {"hit", Flag::obstructed},
                                                                     {"tripped", Flag::fall}}};
  const auto found = std::find_if(words.begin(), words.end(),
                                  [&](const auto& pair) { return text::equal_ignoring_case(pair.first, text); });
  return found == words.end() ? std::nullopt : std::optional(found->second);
}

}  // namespace bagsplit::runs
