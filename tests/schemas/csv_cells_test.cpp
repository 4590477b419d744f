// No cell of any CSV answer is a formula to a spreadsheet, whatever was typed into the files read.
//
// Common practice, no source: spreadsheets work out a cell that begins with = + - @ or a tab or carriage return.
#include <gtest/gtest.h>

#include <ostream>
#include <regex>

#include "support/process.hpp"

namespace bagsplit::test {
namespace {

// Cells of a CSV, quotes taken off. Lines that begin with # are cut as a spreadsheet cuts them.
std::vector<std::string> cells_of(const std::string& csv, char delimiter) {
  std::vector<std::string> cells(1);
  bool quoted = false;
  for (std::size_t k = 0; k < csv.size(); ++k) {
    const char c = csv[k];
    if (quoted && c == '"' && k + 1 < csv.size() && csv[k + 1] == '"') {
      cells.back() += c;
      ++k;
    } else if (c == '"' && (quoted || cells.back().empty())) {
      quoted = !quoted;
    } else if (!quoted && (c == delimiter || c == '\n')) {
      cells.emplace_back();
    } else {
      cells.back() += c;
    }
  }
  return cells;
}

struct Case {
  const char* script;
  bool names;  // prints what was typed
};

void PrintTo(const Case& one, std::ostream* out) {
  *out << one.script;
}

class CsvCells : public testing::TestWithParam<Case> {};

TEST_P(CsvCells, AreNoFormulas) {
  Surroundings surroundings;
  surroundings.program = BAGSPLIT_PROGRAM;
  surroundings.data = BAGSPLIT_DATA_DIR;
  Workplace place(surroundings);
  std::string night =
      "# base-distance: 60 ft\n# place: field,=1+1\n"
      "date,player,course,trial,timer,surface,team,leg,first,second,third,home,flag,note,x-more\n";
  for (const char* date : {"2026-04-11", "2026-06-20"}) {
    for (const char* player : {"=1+1", "+a", "-b", "@c", "d"}) {
      night += std::string(date) + "," + player + ",circuit,1,=AK,@grass,,,4.05,8.02,12.10,16.31,,=note,-more\n";
      night += std::string(date) + "," + player + ",circuit,1,+RB,@grass,,,4.15,8.10,12.20,16.41,,@note,\"\t=x\"\n";
    }
    night += std::string(date) + ",=1+1,home-second,2,=AK,@grass,=red,1,,8.10,,,,,\n";
    night += std::string(date) + ",@c,home-second,2,=AK,@grass,=red,2,,16.60,,,,,\n";
  }
  write_file(place.folder() / "night.csv", night);
  write_file(place.folder() / "wrong.csv", "date,player,course,=first\n=1+1,@x,-y,+z\n2026-04-11,12,=course,4:o5\n");
  write_file(place.folder() / "squad.csv",
             "player,bib,name,sex,born,team\n=1+1,=9,=Ann,F,2014-10-02,=red\n+a,+9,@Bo,M,2014-10-02,=red\n"
             "-b,,-Cy,F,2015-10-02,@blue\n@c,,+Di,M,2015-01-02,@blue\nd,,,,,\n");
  write_file(place.folder() / "gates.csv", "# date: 2026-04-11\ngate,time\n1,10.0\n2,12.1\n3,13.9\n1,40.0\n2,42.3\n");
  write_file(place.folder() / "starts.csv", "player,flag\n=1+1,\n@c,\n-b,absent\n");
  write_file(place.folder() / "map.csv", "# start: self\n# place: field,=1+1\ngate,mark\n1,start\n2,10m\n3,20m\n");
  for (const auto& [option, delimiter] : {std::pair{"", ','}, std::pair{" --separator semicolon", ';'}}) {
    const std::string script = std::regex_replace(std::string(GetParam().script), std::regex("SEPARATOR"), option);
    if (delimiter == ';' && script == GetParam().script) {
      continue;  // always commas
    }
    const Outcome outcome = place.run(script, "=1+1 4.05 8.02 12.10 16.31 ; =note\ny\nquit\n");
    ASSERT_FALSE(outcome.out.empty()) << script << ": " << outcome.err;
    const std::regex number("[+-]?[0-9]+([.,][0-9]+)?(e[+-]?[0-9]+)?");
    bool guarded = false;
    for (const std::string& cell : cells_of(outcome.out, delimiter)) {
      const bool starts = !cell.empty() && std::string_view("=+-@\t\r").find(cell.front()) != std::string_view::npos;
      EXPECT_TRUE(!starts || std::regex_match(cell, number)) << script << ": " << cell;
      guarded = guarded || (cell.size() > 1 && cell.front() == '\'');
    }
    EXPECT_EQ(guarded, GetParam().names) << script << "\n" << outcome.out.substr(0, 500);
  }
}

const Case cases[] = {
    {"bagsplit check wrong.csv --format csvSEPARATOR", true},
    {"bagsplit check --codes --format csvSEPARATOR", false},
    {"bagsplit profile night.csv --roster squad.csv --format csvSEPARATOR", true},
    {"bagsplit trend night.csv --roster squad.csv --format csvSEPARATOR", true},
    {"bagsplit trend night.csv --roster squad.csv --slope --format csvSEPARATOR", true},
    {"bagsplit standings night.csv --roster squad.csv --cut 2 --next-runs 2 --format csvSEPARATOR", true},
    {"bagsplit timers night.csv --format csvSEPARATOR", true},
    {"bagsplit norms --format csvSEPARATOR", false},
    {"bagsplit norms --priors --format csvSEPARATOR", false},
    {"bagsplit norms --distance 20m --age 8.6 --sex F --time 4.3 --format csvSEPARATOR", false},
    {"bagsplit path night.csv --player =1+1 --format csvSEPARATOR", false},
    {"bagsplit plan night.csv --minutes 60 --format csvSEPARATOR", false},
    {"bagsplit relay night.csv --roster squad.csv --format csvSEPARATOR", true},
    {"bagsplit teams night.csv --roster squad.csv --names =x,@y --format csvSEPARATOR", true},
    {"bagsplit sheet --roster squad.csv --place 'field,=1+1' --timers =AK --format csvSEPARATOR", true},
    {"bagsplit gates gates.csv --starts starts.csv --map map.csv --format csv", true},
    {"rm -f log.csv; bagsplit record log.csv --course circuit --base-distance 60ft --date 2026-04-11 --timer =AK "
     "--place 'field,=1+1' >/dev/null; cat log.csv",
     true},
    {"rm -f m.csv; bagsplit record --merge night.csv -o m.csv 2>&1; cat m.csv", true},
};

INSTANTIATE_TEST_SUITE_P(Commands, CsvCells, testing::ValuesIn(cases),
                         [](const auto& one) { return std::to_string(one.index); });

}  // namespace
}  // namespace bagsplit::test
