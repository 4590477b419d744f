#include "bagsplit/present/codes_report.hpp"

#include <array>

#include "bagsplit/present/text/problem_text.hpp"
#include "bagsplit/text/csv_writer.hpp"
#include "bagsplit/text/json_writer.hpp"
#include "bagsplit/text/problem_codes.hpp"

namespace bagsplit::present {

namespace {

struct Place {
  text::ProblemOf of;
  std::string_view word, heading;
};
constexpr std::array places = std::to_array<Place>({
    {text::ProblemOf::run_log, "run-log", "In run logs"},
    {text::ProblemOf::roster, "roster", "In rosters"},
    {text::ProblemOf::json, "json", "In JSON files: models, devices, courses"},
    {text::ProblemOf::recorders, "recorders", "In logs of recorders, merged"},
    {text::ProblemOf::gates, "gates", "In gate logs, start lists and gate maps"},
    {text::ProblemOf::squad, "squad", "Against the squad, from three players on"},
    {text::ProblemOf::files, "files", "Before a file is read"},
});

std::string_view place_word(text::ProblemOf of) {
  for (const Place& place : places) {
    if (place.of == of) {
      return place.word;
    }
  }
  return "";
}

}  // namespace

std::string codes_text(const text::TextOptions& options) {
  std::string out = text::paragraph(
      "Each kind of problem has a code of its own. Errors stop a command; suspicions are kept, "
      "counted and reported, or taken for errors where that is asked for; notes are for the record.",
      options.width);
  for (const Place& place : places) {
    std::string entries;
    for (const text::ProblemCode& code : text::problem_codes()) {
      if (code.of == place.of) {
        entries += text::paragraph(
            std::string(code.code) + " (" + severity_word(code.severity) + "): " + std::string(code.meaning),
            options.width, "- ");
      }
    }
    if (!entries.empty()) {
      out += "\n" + text::heading(place.heading, options) + entries;
    }
  }
  return out;
}

std::string codes_csv() {
  text::CsvWriter csv;
  csv.text("code").text("severity").text("found_in").text("meaning").end_row();
  for (const text::ProblemCode& code : text::problem_codes()) {
    csv.text(code.code).text(severity_word(code.severity)).text(place_word(code.of)).text(code.meaning).end_row();
  }
  return csv.take();
}

std::string codes_json() {
  text::JsonWriter json;
  json.begin_object().member("schema", "bagsplit.check-codes/1").key("codes").begin_array();
  for (const text::ProblemCode& code : text::problem_codes()) {
    json.begin_object(text::JsonWriter::Layout::line)
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
