#include "bagsplit/present/check_report.hpp"

#include <algorithm>
#include <array>

#include "bagsplit/present/machine/json_parts.hpp"
#include "bagsplit/present/text/problem_text.hpp"
#include "bagsplit/runs/typed.hpp"
#include "bagsplit/text/csv_writer.hpp"
#include "bagsplit/text/json_writer.hpp"
#include "bagsplit/text/number_text.hpp"
#include "bagsplit/text/text_table.hpp"

namespace bagsplit::present {

namespace {

using Layout = text::JsonWriter::Layout;

std::size_t count_of(const text::Problems& problems, text::Severity severity) {
  return static_cast<std::size_t>(std::count_if(
      problems.begin(), problems.end(), [&](const text::Problem& problem) { return problem.severity == severity; }));
}

// Errors first, then suspicions and notes, each in the order first met.
text::TextTable by_code(const text::Problems& problems) {
  text::TextTable table({{"problem", "", text::Align::left}, {"number", ""}, {"in files", ""}});
  for (const auto severity : {text::Severity::error, text::Severity::suspicion, text::Severity::note}) {
    std::vector<std::string> codes;
    for (const text::Problem& problem : problems) {
      if (problem.severity == severity && std::find(codes.begin(), codes.end(), problem.code) == codes.end()) {
        codes.push_back(problem.code);
      }
    }
    for (const std::string& code : codes) {
      std::size_t count = 0;
      std::vector<std::string> paths;
      for (const text::Problem& problem : problems) {
        if (problem.severity == severity && problem.code == code) {
          ++count;
          if (std::find(paths.begin(), paths.end(), problem.path) == paths.end()) {
            paths.push_back(problem.path);
          }
        }
      }
      table.add_row({severity_word(severity) + " " + code, std::to_string(count), std::to_string(paths.size())});
    }
  }
  return table;
}

std::string_view code_of(const jobs::SuspectedReading& reading) {
  constexpr std::array<std::pair<std::string_view, std::string_view>, 6> codes{{{"start", "clock-start"},
                                                                                {"lost", "lost-time"},
                                                                                {"slow", "slow-run"},
                                                                                {"swap", "swapped-runs"},
                                                                                {"bib", "wrong-bib"},
                                                                                {"posture", "wrong-posture"}}};
  const auto at = std::find_if(codes.begin(), codes.end(), [&](const auto& c) { return c.first == reading.kind; });
  return at == codes.end() ? "does-not-fit" : at->second;
}

text::Problem problem_of(const jobs::SuspectedReading& reading) {
  text::Problem out{.severity = text::Severity::suspicion,
                    .code = std::string(code_of(reading)),
                    .path = reading.file,
                    .line = reading.line,
                    .message = jobs::what_is_odd(reading)};
  if (!reading.column.empty()) {
    out.read = text::fixed(reading.read_s, 2);
    out.expected = text::fixed(reading.expected_s, 2) + ", give or take " + text::fixed(reading.expected_sd_s, 2);
  }
  return out;
}

std::string dates_words(const runs::LogSummary& summary) {
  if (!summary.first_date || !summary.last_date) {
    return {};
  }
  return runs::format_date(*summary.first_date) +
         (summary.dates == 1
              ? ""
              : " to " + runs::format_date(*summary.last_date) + ", " + text::counted(summary.dates, "date"));
}

}  // namespace

std::string check_text(const runs::LogSummary& summary, const text::Problems& problems,
                       const text::TextOptions& options, bool codes) {
  std::string out = text::paragraph(
      "Read " + text::counted(summary.rows, "row") + " from " + text::counted(summary.files, "file") + ": " +
          text::counted(summary.runs, "run") + " of " + text::counted(summary.players, "player") + ", " +
          text::counted(summary.readings, "reading") + ", " + text::counted(summary.times, "time") + ".",
      options.width);
  if (const std::string dates = dates_words(summary); !dates.empty()) {
    out += text::paragraph(dates + ", " + text::counted(summary.sessions, "session") + ".", options.width);
  }
  if (!summary.flags.empty()) {
    std::string flags;
    for (const runs::Tally& flag : summary.flags) {
      flags += (flags.empty() ? "" : ", ") + std::to_string(flag.count) + " " + flag.word;
    }
    out += text::paragraph("Flagged, kept in the record and left out of estimates: " + flags + ".", options.width);
  }
  if (!summary.courses.empty()) {
    text::TextTable courses({{"course", "", text::Align::left}, {"runs", ""}, {"players", ""}});
    for (const runs::CourseTally& course : summary.courses) {
      courses.add_row({course.course, std::to_string(course.runs), std::to_string(course.players)});
    }
    out += "\n" + courses.str(options);
  }
  if (!summary.timers.empty()) {
    text::TextTable timers({{"timer", "", text::Align::left}, {"readings", ""}});
    for (const runs::Tally& timer : summary.timers) {
      timers.add_row({timer.word.empty() ? "(none named)" : timer.word, std::to_string(timer.count)});
    }
    out += "\n" + timers.str(options);
  }
  if (codes && !problems.empty()) {
    out += "\n" + by_code(problems).str(options);
  }
  out += "\n" + count_line(problems) + "\n";
  if (text::has_errors(problems)) {
    out += text::paragraph("Rows with errors are not in the counts of runs, readings and times.", options.width);
  } else if (summary.suspicious_readings > 0) {
    out += text::paragraph(text::counted(summary.suspicious_readings, "reading") +
                               " named by suspicions; they are kept. Correct the file where it "
                               "is wrong; where it is right, write yes in a column 'checked', and it is not asked "
                               "about again.",
                           options.width);
  }
  return out;
}

std::string check_csv(const text::Problems& problems) {
  text::CsvWriter csv;
  for (const char* column :
       {"severity", "code", "path", "line", "column", "length", "message", "read", "expected", "hint"}) {
    csv.text(column);
  }
  csv.end_row();
  const auto place = [&](std::size_t value) { value == 0 ? csv.empty() : csv.count(value); };
  for (const text::Problem& problem : problems) {
    csv.text(severity_word(problem.severity)).text(problem.code).text(problem.path);
    place(problem.line);
    place(problem.column);
    place(problem.length);
    csv.text(problem.message).text(problem.read).text(problem.expected).text(problem.hint).end_row();
  }
  return csv.take();
}

void add_doubts(const jobs::SheetDoubts& doubts, bool strict, text::Problems& problems) {
  const auto severity = strict ? text::Severity::error : text::Severity::suspicion;
  for (const jobs::SuspectedReading& reading : doubts.surely) {
    const auto here = [&](const text::Problem& problem) {
      return problem.path == reading.file && problem.line == reading.line && problem.severity != text::Severity::note;
    };
    if (reading.kind == "swap" || reading.kind == "bib" || reading.kind == "posture") {
      std::erase_if(problems,
                    [&](const text::Problem& problem) { return here(problem) && problem.code == "far-from-usual"; });
    }
    if (std::none_of(problems.begin(), problems.end(), here)) {
      problems.push_back(problem_of(reading));
      problems.back().severity = severity;
    }
  }
  for (const std::string& note : doubts.notes) {
    problems.push_back({.severity = severity, .code = "unlike-squad", .path = "all files", .message = note});
  }
}

std::string check_json(const runs::LogSummary& summary, const text::Problems& problems,
                       const jobs::SheetDoubts& doubts) {
  text::JsonWriter json;
  const auto date = [&](const char* name, const std::optional<runs::Date>& value) {
    json.key(name);
    value ? json.text(runs::format_date(*value)) : json.null();
  };
  const auto tallies = [&](const char* name, const std::vector<runs::Tally>& values) {
    json.key(name).begin_object(Layout::line);
    for (const runs::Tally& tally : values) {
      json.key(tally.word).count(tally.count);
    }
    json.end_object();
  };
  json.begin_object()
      .member("schema", "bagsplit.check/1")
      .member("files", std::uint64_t{summary.files})
      .member("rows", std::uint64_t{summary.rows})
      .member("runs", std::uint64_t{summary.runs})
      .member("readings", std::uint64_t{summary.readings})
      .member("times", std::uint64_t{summary.times})
      .member("players", std::uint64_t{summary.players})
      .member("sessions", std::uint64_t{summary.sessions});
  json.key("dates").begin_object(Layout::line).member("count", std::uint64_t{summary.dates});
  date("first", summary.first_date);
  date("last", summary.last_date);
  json.end_object();
  tallies("flagged_runs", summary.flags);
  json.key("courses").begin_array();
  for (const runs::CourseTally& course : summary.courses) {
    json.begin_object(Layout::line)
        .member("course", course.course)
        .member("runs", std::uint64_t{course.runs})
        .member("players", std::uint64_t{course.players})
        .end_object();
  }
  json.end_array();
  json.key("timers").begin_array();
  for (const runs::Tally& timer : summary.timers) {
    json.begin_object(Layout::line).key("timer");
    timer.word.empty() ? json.null() : json.text(timer.word);
    json.member("readings", std::uint64_t{timer.count}).end_object();
  }
  json.end_array();
  json.member("suspicious_readings", std::uint64_t{summary.suspicious_readings})
      .member("errors", std::uint64_t{count_of(problems, text::Severity::error)})
      .member("suspicions", std::uint64_t{count_of(problems, text::Severity::suspicion)})
      .member("notes", std::uint64_t{count_of(problems, text::Severity::note)});
  json.key("problems").raw(problems_json(problems));
  write_suspected(json, "suspected_readings", doubts.surely);
  write_suspected(json, "maybe_readings", doubts.maybe);
  json.key("slip_rate");
  doubts.slip_rate > 0.0 ? json.number(doubts.slip_rate) : json.null();
  json.end_object();
  return json.take();
}

}  // namespace bagsplit::present
