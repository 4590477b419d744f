#include "bagsplit/gates/gate_log.hpp"

#include <algorithm>
#include <array>

#include "bagsplit/gates/detail/gate_table.hpp"
#include "bagsplit/runs/log/log_summary.hpp"
#include "bagsplit/runs/typed.hpp"
#include "bagsplit/runs/units.hpp"
#include "bagsplit/text/text.hpp"

namespace bagsplit::gates {

namespace {

using detail::Refusal;
using detail::seconds_text;
using text::equal_ignoring_case;
using text::trim;

constexpr std::int64_t second_ns = 1'000'000'000;
constexpr std::size_t longest_name = 100;
constexpr std::string_view time_expected =
    "seconds (75.123), a time of day (10:15:30.123) or ISO 8601 (2026-04-11T10:15:30.123), up to 9 decimals";

enum class Form : std::uint8_t { seconds, of_day, iso };

struct Typed {
  std::int64_t ns = 0;
  Form form = Form::seconds;
};

// Digits, and after a point up to nine more.
std::optional<std::int64_t> plain_ns(std::string_view text, std::size_t most_digits) {
  const std::size_t point = std::min(text.find('.'), text.size());
  std::string_view fraction = text.substr(std::min(point + 1, text.size()));
  while (fraction.size() > 9 && fraction.back() == '0') {
    fraction.remove_suffix(1);
  }
  const auto digits = [](std::string_view s) { return std::all_of(s.begin(), s.end(), text::is_digit); };
  if (point == 0 || point > most_digits || fraction.size() > 9 || point + 1 == text.size() ||
      !digits(text.substr(0, point)) || !digits(fraction)) {
    return std::nullopt;
  }
  std::int64_t ns = 0;
  for (const char c : text.substr(0, point)) {
    ns = ns * 10 + (c - '0');
  }
  for (std::size_t k = 0; k < 9; ++k) {
    ns = ns * 10 + (k < fraction.size() ? fraction[k] - '0' : 0);
  }
  return ns;
}

// h:mm, h:mm:ss or h:mm:ss.fff
std::optional<std::int64_t> of_day_ns(std::string_view text) {
  const std::size_t first = text.find(':');
  if (first == std::string_view::npos || text.size() < first + 3) {
    return std::nullopt;
  }
  const auto hours = runs::parse_count(text.substr(0, first), 0, 23);
  const auto minutes = runs::parse_count(text.substr(first + 1, 2), 0, 59);
  std::string_view rest = text.substr(first + 3);
  std::int64_t seconds = 0;
  if (!rest.empty()) {
    const std::size_t whole = std::min(rest.find('.'), rest.size());
    const auto ns = rest.front() == ':' && whole == 3 ? plain_ns(rest.substr(1), 2) : std::nullopt;
    if (!ns || *ns >= 60 * second_ns) {
      return std::nullopt;
    }
    seconds = *ns;
  }
  return hours && minutes ? std::optional((std::int64_t{*hours} * 60 + *minutes) * 60 * second_ns + seconds)
                          : std::nullopt;
}

std::optional<Typed> typed_time(std::string_view text) {
  if (const auto ns = plain_ns(text, 9)) {
    return Typed{*ns, Form::seconds};
  }
  if (const auto ns = of_day_ns(text)) {
    return Typed{*ns, Form::of_day};
  }
  if (text.size() < 16 || (text[10] != 'T' && text[10] != 't' && text[10] != ' ')) {
    return std::nullopt;
  }
  const auto date = runs::parse_date(text.substr(0, 10), runs::DateOrder::iso);
  std::string_view clock = text.substr(11);
  std::int64_t offset = 0;
  if (clock.back() == 'Z' || clock.back() == 'z') {
    clock.remove_suffix(1);
  } else if (const std::size_t sign = clock.find_first_of("+-"); sign != std::string_view::npos) {
    const auto ns = of_day_ns(clock.substr(sign + 1));
    if (!ns) {
      return std::nullopt;
    }
    offset = clock[sign] == '-' ? -*ns : *ns;
    clock = clock.substr(0, sign);
  }
  const auto ns = of_day_ns(clock);
  if (!date || !ns) {
    return std::nullopt;
  }
  return Typed{std::int64_t{date->time_since_epoch().count()} * 86'400 * second_ns + *ns - offset, Form::iso};
}

Refusal bad_time(std::string_view text) {
  return {"bad-time", "not a time: \"" + text::clipped(text) + "\"", std::string(time_expected),
          text.find(',') != std::string_view::npos ? "write a point where a comma stands" : ""};
}

Refusal take_text(std::string_view text, std::string& target) {
  if (text.size() > longest_name) {
    return {"bad-text",
            "a text of " + std::to_string(text.size()) + " bytes",
            "at most " + std::to_string(longest_name),
            {}};
  }
  target = text;
  return {};
}

// Undoes wraps, parts the log where its clock steps back, sorts.
class Clock {
 public:
  Clock(GateLog& log, text::Problems& problems, std::optional<std::int64_t> wraps_ns, std::int64_t late_ns)
      : log_(log), problems_(problems), wraps_ns_(wraps_ns), late_ns_(late_ns) {}

  void put_in_order() {
    for (GatePassage& passage : log_.passages) {
      place(passage);
    }
    if (late_lines_ > 0) {
      tell(first_late_, text::Severity::note, "unsorted-lines",
           std::to_string(late_lines_) + (late_lines_ == 1 ? " line stands" : " lines stand") +
               " later than its time; sorted in");
    }
    std::stable_sort(log_.passages.begin(), log_.passages.end(), [](const GatePassage& a, const GatePassage& b) {
      return a.clock != b.clock ? a.clock < b.clock : a.time_ns < b.time_ns;
    });
  }

 private:
  void place(GatePassage& passage) {
    const std::int64_t read = passage.time_ns;
    std::int64_t now = read + turns_;
    if (any_ && wraps_ns_) {
      if (now < latest_ - *wraps_ns_ / 2) {
        turns_ += *wraps_ns_;
        now += *wraps_ns_;
        tell(passage.line, text::Severity::note, "clock-wrapped",
             "the clock goes back to 0 at " + seconds_text(*wraps_ns_) + "; counted on");
      } else if (turns_ > 0 && now > latest_ + *wraps_ns_ / 2) {
        now -= *wraps_ns_;  // written late, from before the wrap
      }
    }
    if (any_ && now < latest_ - late_ns_) {
      step_back(passage, now);
    } else if (any_ && now < latest_) {
      first_late_ = late_lines_++ == 0 ? passage.line : first_late_;
    }
    latest_ = any_ ? std::max(latest_, now) : now;
    any_ = true;
    passage.time_ns = now;
    passage.clock = clock_;
  }

  void step_back(const GatePassage& passage, std::int64_t now) {
    // Lengths at which counters usually start again.
    constexpr std::array usual_s{60, 100, 1'000, 3'600, 10'000, 43'200, 86'400, 100'000};
    std::string hint = "runs over this place are left out";
    for (const std::int64_t usual : usual_s) {
      if (!wraps_ns_ && latest_ <= usual * second_ns && latest_ > usual * second_ns * 9 / 10 &&
          now < usual * second_ns / 10) {
        hint += "; if the clock goes back to 0 at " + std::to_string(usual) +
                " s, write '# wraps-at: " + std::to_string(usual) + "' above the header";
        break;
      }
    }
    problems_.push_back({.severity = text::Severity::suspicion,
                         .code = "clock-step",
                         .path = log_.path,
                         .line = passage.line,
                         .message = "the clock goes back from " + seconds_text(latest_) + " to " + seconds_text(now),
                         .expected = "times that rise",
                         .hint = std::move(hint)});
    ++clock_;
    any_ = false;
  }

  void tell(std::size_t line, text::Severity severity, std::string code, std::string message) {
    problems_.push_back({.severity = severity,
                         .code = std::move(code),
                         .path = log_.path,
                         .line = line,
                         .message = std::move(message)});
  }

  GateLog& log_;
  text::Problems& problems_;
  std::optional<std::int64_t> wraps_ns_;
  std::int64_t late_ns_;
  std::int64_t latest_ = 0;
  std::int64_t turns_ = 0;
  std::size_t clock_ = 0;
  std::size_t late_lines_ = 0;
  std::size_t first_late_ = 0;
  bool any_ = false;
};

}  // namespace

std::optional<std::int64_t> parse_gate_time_ns(std::string_view text) {
  const auto typed = typed_time(trim(text));
  return typed ? std::optional(typed->ns) : std::nullopt;
}

GateLog read_gate_log(std::string_view text, std::string_view path, text::Problems& problems, double late_lines_s) {
  GateLog log;
  log.path = path;
  std::optional<Form> form;
  std::optional<std::int64_t> wraps_ns;
  GatePassage now;
  const detail::TableShape shape{"gate log", {"gate", "time"}, 2, {"date", "place", "wraps-at"}};
  const detail::TableReader reader{
      [&](std::string_view key, std::string_view value) -> Refusal {
        if (key == "date") {
          log.date = runs::parse_date(value, runs::DateOrder::iso);
          return log.date ? Refusal{} : Refusal{"bad-date", "'date' is not a date", "YYYY-MM-DD", {}};
        }
        if (key == "place") {
          return take_text(value, log.place);
        }
        std::string_view number = value.ends_with('s') ? trim(value.substr(0, value.size() - 1)) : value;
        wraps_ns = plain_ns(number, 9);
        return wraps_ns && *wraps_ns >= second_ns
                   ? Refusal{}
                   : Refusal{"bad-number", "'wraps-at' is no number of seconds", "1 or more, such as 3600", {}};
      },
      [&](std::size_t column, std::string_view cell) -> Refusal {
        if (column == 0) {
          return take_text(cell, now.gate);
        }
        const auto typed = typed_time(cell);
        if (!typed) {
          return bad_time(cell);
        }
        if (form && *form != typed->form) {
          return {"bad-time", "this time is of another form than those above it", "one form throughout", {}};
        }
        form = typed->form;
        if (typed->form == Form::iso && !log.date) {
          log.date = runs::parse_date(cell.substr(0, 10), runs::DateOrder::iso);
        }
        now.time_ns = typed->ns;
        return {};
      },
      [&](const text::CsvRecord& record) {
        now.line = record.line;
        log.passages.push_back(now);
        ++log.rows;
      }};
  detail::read_table(text, path, shape, reader, problems);
  if (form == Form::of_day && !wraps_ns) {
    wraps_ns = 86'400 * second_ns;
  }
  Clock(log, problems, wraps_ns, static_cast<std::int64_t>(late_lines_s * 1e9)).put_in_order();
  return log;
}

namespace {

constexpr unsigned most_lines = 100'000'000;

Refusal bad_line(std::string_view text) {
  return {"bad-number", "no line of the gate log: \"" + text::clipped(text) + "\"", "its number, such as 145", {}};
}

// "145, 160"
Refusal read_lines(std::string_view text, std::vector<std::size_t>& lines) {
  for (std::string_view rest = text; !rest.empty();) {
    const std::size_t end = std::min(rest.find_first_of(",; "), rest.size());
    const std::string_view word = rest.substr(0, end);
    rest.remove_prefix(std::min(end + 1, rest.size()));
    const auto line = runs::parse_count(word, 1, most_lines);
    if (!line && !word.empty()) {
      return bad_line(word);
    }
    if (line) {
      lines.push_back(*line);
    }
  }
  return {};
}

}  // namespace

StartList read_start_list(std::string_view text, std::string_view path, text::Problems& problems) {
  StartList list;
  list.path = path;
  StartEntry now;
  const detail::TableShape shape{
      "start list", {"player", "time", "trial", "flag", "note"}, 1, {"everybody-ran", "nobody", "unknown"}};
  const detail::TableReader reader{
      [&](std::string_view key, std::string_view value) -> Refusal {
        if (key != "everybody-ran") {
          return read_lines(value, key == "nobody" ? list.nobody : list.unknown);
        }
        list.everybody_ran = equal_ignoring_case(value, "yes");
        return list.everybody_ran || equal_ignoring_case(value, "no")
                   ? Refusal{}
                   : Refusal{
                         "unknown-word", "'everybody-ran' has no word '" + text::clipped(value) + "'", "yes or no", {}};
      },
      [&](std::size_t column, std::string_view cell) -> Refusal {
        switch (column) {
          case 0:
            return take_text(cell, now.player);
          case 1:
            if (text::lower(cell).starts_with("line ")) {
              const auto line = runs::parse_count(trim(cell.substr(5)), 1, most_lines);
              now.start_line = line.value_or(0);
              return line ? Refusal{} : bad_line(cell);
            }
            now.time_ns = parse_gate_time_ns(cell);
            return now.time_ns ? Refusal{} : bad_time(cell);
          case 2: {
            const auto trial = runs::parse_count(cell, 1, 9'999);
            now.trial = static_cast<std::uint16_t>(trial.value_or(0));
            return trial ? Refusal{} : Refusal{"bad-number", "'trial' is no number", "1 to 9999", {}};
          }
          case 3: {
            std::vector<std::string_view> words;
            for (int k = 1; k <= static_cast<int>(runs::Flag::absent); ++k) {
              words.push_back(runs::flag_name(static_cast<runs::Flag>(k)));
              if (equal_ignoring_case(words.back(), cell)) {
                now.flag = static_cast<runs::Flag>(k);
                return {};
              }
            }
            const auto near = text::nearest(cell, words);
            return {"unknown-word", "'flag' has no word '" + text::clipped(cell) + "'", text::list_of(words),
                    near ? "'" + std::string(*near) + "' may be meant" : ""};
          }
          default:
            return take_text(cell, now.note);
        }
      },
      [&](const text::CsvRecord& record) {
        now.line = record.line;
        list.entries.push_back(std::move(now));
        now = {};
      }};
  detail::read_table(text, path, shape, reader, problems);
  return list;
}

GateMap read_gate_map(std::string_view text, std::string_view path, const std::vector<runs::Course>& courses,
                      text::Problems& problems) {
  GateMap map;
  map.path = path;
  const runs::Course* course = runs::find_course(courses, map.course);
  std::string gate;
  std::string mark;
  const auto problem = [&](std::size_t line, std::string code, std::string message, std::string expected) {
    problems.push_back({.code = std::move(code),
                        .path = map.path,
                        .line = line,
                        .message = std::move(message),
                        .expected = std::move(expected)});
  };
  const auto mark_m = [&](const std::string& name) -> std::optional<double> {
    if (course != nullptr) {
      for (const runs::CourseMark& own : course->marks) {
        if (equal_ignoring_case(own.name, name)) {
          return own.is_bag && map.base_distance_m <= 0.0
                     ? std::nullopt
                     : std::optional(runs::distance_m(*course, own, map.base_distance_m));
        }
      }
    }
    return runs::bag_of_name(name) ? std::nullopt : runs::parse_length_m(name);
  };
  const detail::TableShape shape{
      "gate map", {"gate", "mark"}, 2, {"course", "start", "base-distance", "posture", "surface"}};
  const detail::TableReader reader{
      [&](std::string_view key, std::string_view value) -> Refusal {
        if (key == "course") {
          map.course = value;
          course = runs::find_course(courses, value);
          return course != nullptr ? Refusal{}
                                   : Refusal{"unknown-course",
                                             "there is no course '" + text::clipped(value) + "'",
                                             "a built-in course, or one of your own",
                                             {}};
        }
        if (key == "base-distance") {
          const auto metres = runs::parse_length_m(value);
          map.base_distance_m = metres.value_or(0.0);
          map.base_distance = value;
          return metres && *metres > 0.0 ? Refusal{}
                                         : Refusal{"bad-length", "'base-distance' is no length", "such as 60 ft", {}};
        }
        if (key == "start") {
          constexpr std::array words{"signal", "self", "beam", "contact"};
          for (std::size_t k = 0; k < words.size(); ++k) {
            const std::string_view word = value.substr(0, value.find(' '));
            if (equal_ignoring_case(word, words.at(k))) {
              map.start = static_cast<runs::StartKind>(k);
              const auto at = runs::parse_length_m(trim(value.substr(word.size())));
              map.beam_distance_m = at.value_or(0.0);
              const bool fits =
                  (map.start == runs::StartKind::beam) == (at && *at > 0.0) && (at || word.size() == value.size());
              return fits ? Refusal{}
                          : Refusal{"bad-start",
                                    "'start' is incomplete or has text after it",
                                    "signal, self, contact, or beam 0.5 m",
                                    {}};
            }
          }
          return {"bad-start",
                  "'start' has no word '" + text::clipped(value) + "'",
                  "signal, self, contact, or beam 0.5 m",
                  {}};
        }
        return take_text(value, key == "posture" ? map.posture : map.surface);
      },
      [&](std::size_t column, std::string_view cell) { return take_text(cell, column == 0 ? gate : mark); },
      [&](const text::CsvRecord& record) {
        if (mark == "-") {
          map.not_used.push_back(gate);
        } else if (equal_ignoring_case(mark, "start")) {
          if (!map.start_gate.empty()) {
            problem(record.line, "repeated-mark", "a second gate at the start", "one");
          }
          map.start_gate = gate;
        } else if (const auto at_m = mark_m(mark)) {
          const bool again = std::any_of(map.places.begin(), map.places.end(),
                                         [&](const GatePlace& p) { return p.distance_m == *at_m; });
          if (again || *at_m <= 0.0) {
            problem(record.line, "repeated-mark",
                    again ? "a second gate at '" + mark + "'" : "'" + mark + "' lies at the start",
                    "one gate for each mark; 'start' for the start");
          }
          map.places.push_back({gate, mark, *at_m});
        } else if (runs::bag_of_name(mark) && course != nullptr && course->is_base_path() &&
                   map.base_distance_m <= 0.0) {
          problem(record.line, "no-base-distance", "'" + mark + "' lies on the bases, and no base distance is given",
                  "a line such as '# base-distance: 60 ft' above the header");
        } else {
          problem(record.line, "mark-not-on-course",
                  "the course " + map.course + " has no mark '" + text::clipped(mark) + "'",
                  "start, a bag of the course, a distance such as 20m, or - for a gate not used");
        }
      }};
  detail::read_table(text, path, shape, reader, problems);
  std::stable_sort(map.places.begin(), map.places.end(),
                   [](const GatePlace& a, const GatePlace& b) { return a.distance_m < b.distance_m; });
  if (!text::has_errors(problems) && (map.start_gate.empty() || map.places.empty())) {
    problem(0, "missing-mark", map.start_gate.empty() ? "no gate has the mark 'start'" : "no gate stands at a mark",
            "both");
  }
  return map;
}

}  // namespace bagsplit::gates
