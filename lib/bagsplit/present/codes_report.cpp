#include "bagsplit/present/codes_report.hpp"

#include <array>

#include "bagsplit/present/csv_writer.hpp"
#include "bagsplit/present/json_writer.hpp"
#include "bagsplit/present/problem_text.hpp"
#include "bagsplit/runs/problem_codes.hpp"

namespace bagsplit::present {

namespace {

struct Place {
  runs::ProblemOf of;
  std::string_view word, heading;
};
constexpr std::array places = std::to_array<Place>({
    {runs::ProblemOf::run_log, "run-log", "In run logs"},
    {runs::ProblemOf::roster, "roster", "In rosters"},
    {runs::ProblemOf::json, "json", "In JSON files: models, devices, courses"},
    {runs::ProblemOf::files, "files", "Before a file is read"},
});

std::string_view place_word(runs::ProblemOf of) {
  for (const Place& place : places) {
    if (place.of == of) {
      return place.word;
    }
  }
  return "";
}

}  // namespace

std::string codes_text(const TextOptions& options) {
  std::string out = paragraph(
      "Each kind of problem has a code of its own. Errors stop a command; suspicions are kept, "
      "counted and reported, and --strict takes them for errors; notes are for the record.",
      options.width);
  for (const Place& place : places) {
    std::string entries;
    for (const runs::ProblemCode& code : runs::problem_codes()) {
      if (code.of == place.of) {
        entries +=
            paragraph(std::string(code.code) + " (" + severity_word(code.severity) + "): " + std::string(code.meaning),
                      options.width, "- ");
      }
    }
    if (!entries.empty()) {
      out += "\n" + heading(place.heading, options) + entries;
    }
  }
  return out;
}

std::string codes_csv() {
  CsvWriter csv;
  csv.text("code").text("severity").text("found_in").text("meaning").end_row();
  for (const runs::ProblemCode& code : runs::problem_codes()) {
    csv.text(code.code).text(severity_word(code.severity)).text(place_word(code.of)).text(code.meaning).end_row();
  }
  return csv.take();
}

std::string codes_json() {
  JsonWriter json;
  json.begin_object().member("schema", "bagsplit.check-codes/1").key("codes").begin_array();
  for (const runs::ProblemCode& code : runs::problem_codes()) {
    json.begin_object(JsonWriter::Layout::line)
        .member("code", code.code)
        .member("severity", severity_word(code.severity))
        .member("found_in", place_word(code.of))
        .member("meaning", code.meaning)
        .end_object();
  }
  json.end_array().end_object();
  return json.take();
}

}  // namespace bagsplit::present
