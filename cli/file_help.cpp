#include "file_help.hpp"

#include <vector>

#include "bagsplit/runs/courses/course.hpp"
#include "bagsplit/runs/courses/drill.hpp"
#include "bagsplit/runs/log/file_columns.hpp"
#include "bagsplit/runs/words.hpp"
#include "bagsplit/text/display.hpp"
#include "bagsplit/text/text.hpp"
#include "help.hpp"

namespace bagsplit::cli {

namespace {

constexpr std::size_t page = 80;

std::string columns_of(std::span<const runs::ColumnWords> columns) {
  std::size_t widest = 0;
  for (const runs::ColumnWords& column : columns) {
    widest = std::max(widest, column.name.size() + 1);
  }
  std::string out;
  for (const runs::ColumnWords& column : columns) {
    const std::string words = column.words.empty() ? "" : text::list_of(column.words) + ": ";
    out += help_entry(std::string(column.name) + (column.required ? "*" : ""), words + std::string(column.what),
                      widest + 4);
  }
  return out;
}

std::string dates_entry() {
  return "  # " + std::string(runs::date_order_key) + ": " + text::list_of(runs::date_order_words) + "\n" +
         text::paragraph(
             "iso: 2026-04-11, taken anyway; dmy: 11/04/2026, 11.04.26; mdy: 04/11/2026. Two digits of a year are of "
             "this century. 11-Apr-2026 is taken anyway",
             page, std::string(6, ' '));
}

// What the drills are, and what each says for a log.
std::string drills_help() {
  std::string out;
  for (const runs::Drill& drill : runs::builtin_drills()) {
    const std::string signal(runs::word_of(drill.signal));
    out += help_entry(
        drill.name,
        drill.about + " Course " + drill.course +
            (drill.posture == runs::Posture::standing ? "" : ", " + std::string(runs::word_of(drill.posture))) +
            (signal.empty() ? "" : ", signal " + signal) + ", " + std::to_string(drill.runs_each) +
            (drill.runs_each == 1 ? " run" : " runs") + " a child.",
        18);
  }
  return out;
}

std::string log_help() {
  std::string out = text::paragraph(
      "A run log: what was timed, one row a run and timer. CSV in UTF-8, separated by commas, semicolons or tabs; the "
      "first line that "
      "does not begin with # names the columns, in any order, in capitals or not.",
      page);
  out += "\nColumns (* every row needs it)\n" + columns_of(runs::log_columns());
  out += help_entry("x-...", "a column of your own, carried along", 18);
  out += "\nTimes, each in a column named by its mark\n";
  out += help_entry("move", "the first move; on a clock that starts at the signal", 18);
  out += help_entry("first, second, third, home", "the bags of the course", 18);
  out += help_entry("10yd, 20m, 30 feet", "a distance from the start, with its unit", 18);
  out += text::paragraph(
      "Seconds (4.05) or minutes and seconds (1:04.05); a decimal comma in files separated by semicolons or tabs. Not "
      "seen: left empty.",
      page, "  ");
  out += "\nAbove the columns, for the whole file\n";
  out += "  # COLUMN: VALUE\n" +
         text::paragraph("any column above but those of times; a cell that is not empty goes before it", page,
                         std::string(6, ' '));
  out += dates_entry();
  out += "  ## anything\n      a remark\n";
  std::vector<std::string> names;
  for (const runs::Course& course : runs::builtin_courses()) {
    names.push_back(course.name);
  }
  const std::vector<std::string_view> views(names.begin(), names.end());
  out += "\nCourses\n" + text::paragraph(text::list_of(views, ",") + "; others by --courses", page, "  ");
  out += "\nDrills, by '# drill: NAME' or a column\n" + drills_help();
  return out + R"(
Example
    # base-distance: 60 ft
    # device: stopwatch
    date,player,course,trial,timer,first,second,flag,note
    2026-04-11,12,home-second,1,AK,4.05,8.02,,
    2026-04-11,12,home-second,1,RB,4.11,8.07,,
    2026-04-11,7,home-second,1,AK,4.32,,fall,at first

The same from a spreadsheet with a decimal comma
    # base-distance: 18,288 m
    # dates: dmy
    date;player;course;trial;timer;first;second;flag;note
    11.04.2026;12;home-second;1;AK;4,05;8,02;;
    11.04.2026;12;home-second;1;RB;4,11;8,07;;
    11.04.2026;7;home-second;1;AK;4,32;;fall;at first

Up from lying on the call, a drill by name
    # drill: rise-and-run
    date,player,trial,20ft,15yd,flag
    2026-04-11,12,1,2.75,4.31,
    2026-04-11,9,1,2.80,,fall

A relay out to second and back, a line a team: its way, its players in order,
its clock at each exchange and the finish, or at the finish alone
    # drill: out-and-back
    # base-distance: 60 ft
    date,team,trial,way,runners,clock
    2026-04-11,red,1,first,12 7 3 9,7.31 14.90 23.20 31.94
    2026-04-11,blue,1,third,5 2 8 4,32.41

A heat: many start on one call, and the order in which they come in is seen
    # drill: rise-and-run
    # finish-at: 15 yd
    date,player,heat,finish,15yd,flag
    2026-04-11,12,1,1,4.31,
    2026-04-11,7,1,2,,
    2026-04-11,3,1,2,,
    2026-04-11,5,1,,,
    2026-04-11,9,1,,,fall

'bagsplit check FILE' tells every problem, 'bagsplit sheet --format csv' writes
a blank log.
)";
}

std::string roster_help() {
  std::string out = text::paragraph(
      "A roster: who the players are, one row each. CSV in UTF-8, separated by commas, semicolons or tabs. Only the id "
      "is needed; without "
      "birth and sex there is no percentile. What it holds is personal data of minors: leave out what is not used.",
      page);
  out += "\nColumns (* every row needs it)\n" + columns_of(runs::roster_columns());
  out += help_entry("x-...", "a column of your own, passed over", 22);
  out += "\nAbove the columns, for the whole file\n" + dates_entry() + "  # anything else\n      a remark\n";
  return out + R"(
Example
    player,bib,sex,born,height_cm,team
    12,4,F,2016-03-02,138.5,red
    7,11,M,2015-11-20,,blue

Give it with --roster, or name it roster.csv and lay it beside the logs.
)";
}

}  // namespace

std::optional<std::string> file_help(std::string_view file) {
  return file == "log" ? std::optional(log_help()) : file == "roster" ? std::optional(roster_help()) : std::nullopt;
}

}  // namespace bagsplit::cli
