// Each command's JSON conforms to its schema in data/schemas, on the demo season and on logs that hold little.
//
// Source: JSON Schema, draft 2020-12 (Wright et al. 2022); the schemas are the documents that a program reading the
// answers works from.
#include <gtest/gtest.h>

#include <algorithm>
#include <nlohmann/json.hpp>
#include <ostream>

#include "support/json_schema.hpp"
#include "support/process.hpp"

namespace bagsplit::test {
namespace {

struct Case {
  const char* schema;
  const char* script;
};

void PrintTo(const Case& one, std::ostream* out) {
  *out << one.script;
}

class Answers : public testing::TestWithParam<Case> {};

TEST_P(Answers, ConformToTheirSchema) {
  Surroundings surroundings;
  surroundings.program = BAGSPLIT_PROGRAM;
  surroundings.data = BAGSPLIT_DATA_DIR;
  Workplace place(surroundings);
  write_file(place.folder() / "one.csv",
             "# base-distance: 60 ft\ndate,player,course,timer,first,flag\n2026-04-11,12,home-first,AK,4.05,\n");
  write_file(place.folder() / "flagged.csv",
             "# base-distance: 60 ft\ndate,player,course,first,flag\n2026-04-11,12,home-first,4.05,fall\n");
  write_file(place.folder() / "wrong.csv", "date,player,course,frist\n2026-04-11,12,home-first,4:o5\n");
  write_file(place.folder() / "gates.csv", "# date: 2026-04-11\ngate,time\n1,10.0\n2,12.1\n3,13.9\n1,40.0\n2,42.3\n");
  write_file(place.folder() / "starts.csv", "player,flag\n12,\n7,\n9,absent\n");
  write_file(place.folder() / "map.csv", "# start: self\ngate,mark\n1,start\n2,10m\n3,20m\n");
  const Outcome outcome = place.run(GetParam().script, "");
  ASSERT_FALSE(outcome.out.empty()) << outcome.err;
  const auto schema =
      nlohmann::json::parse(read_file(std::string(BAGSPLIT_DATA_DIR "/schemas/") + GetParam().schema + ".schema.json"));
  for (const std::string& fault : SchemaCheck(schema)(nlohmann::json::parse(outcome.out))) {
    ADD_FAILURE() << GetParam().script << ": " << fault;
  }
}

const Case cases[] = {
    {"check", "bagsplit check data/demo --format json"},
    {"check", "bagsplit check wrong.csv --format json"},
    {"profile", "bagsplit profile data/demo --format json"},
    {"profile", "bagsplit profile data/demo --model data/models/default.json --format json"},
    {"profile", "bagsplit profile one.csv --format json"},
    {"profile", "bagsplit profile flagged.csv --format json"},
    {"trend", "bagsplit trend data/demo --course home-first --mark first --format json"},
    {"trend", "bagsplit trend one.csv --format json"},
    {"trend", "bagsplit trend data/demo --course home-first --mark first --slope --format json"},
    {"trend", "bagsplit trend data/demo --mark move --format json"},
    {"trend", "bagsplit trend data/demo --course straight --from 10m --mark 20m --format json"},
    {"trend",
     "bagsplit report data/demo --format json 2>/dev/null | sed -n '/^  \"trend\"/,/^  }/p' | "
     "sed '1s/.*/{/;$s/.*/}/'"},
    {"standings", "bagsplit standings data/demo --by time:first@home-first --cut 6 --next-runs 4 --format json"},
    {"standings", "bagsplit standings data/demo --weight top-speed=2 --weight reaction=1 --age-groups --format json"},
    {"standings", "bagsplit standings one.csv --method best --cut 1 --format json"},
    {"standings", "bagsplit standings one.csv --method best --ties as-read --cut 1 --format json"},
    {"standings", "bagsplit standings flagged.csv --by reaction --format json"},
    {"timers", "bagsplit timers data/demo --format json"},
    {"timers", "bagsplit timers one.csv --format json"},
    {"path", "bagsplit path data/demo --player 12 --format json"},
    {"path", "bagsplit path --point-mass 3.048 --format json"},
    {"plan", "bagsplit plan --minutes 60 --players 12 --format json"},
    {"norms-lookup", "bagsplit norms --distance 20m --age 8.6 --sex F --time 4.3 --clock signal --format json"},
    {"norms-lookup", "bagsplit norms --distance 77m --time 12 --format json"},
    {"gates", "bagsplit gates gates.csv --starts starts.csv --map map.csv --format json"},
    {"sheet", "bagsplit sheet --roster data/demo/roster.csv --format json --course straight --marks 10yd"},
    {"sheet", "bagsplit sheet --roster data/demo/roster.csv --format json --drill rise-and-run --heats 6 --rounds 2"},
    {"sheet",
     "bagsplit sheet --roster data/demo/roster.csv --format json --course home-second --relay red=7,12 --relay "
     "blue=14,24"},
    {"relay", "bagsplit relay data/demo data/demo/relay --format json"},
    {"relay", "bagsplit relay data/demo --order red=7,12 --order blue=14,24 --course home-second --format json"},
    {"teams", "bagsplit teams data/demo data/demo/relay --roster data/demo/roster.csv --format json"},
    {"plan", "bagsplit plan --minutes 5 --players 100 --half-width 0.01 --format json"},
    {"teams", "bagsplit teams data/demo --teams 3 --equal-ages 2 --format json"},
    {"teams", "bagsplit teams one.csv --roster data/demo/roster.csv --names red,blue --format json"},
    {"report", "bagsplit report data/demo data/demo/relay --relay --each --format json"},
    {"report", "bagsplit report data/demo --evaluation --cut 3 --anonymise --format json"},
    {"profile",
     "bagsplit report data/demo --player 12 --anonymise --format json 2>/dev/null | sed -n '/^  \"profile\"/,/^  }/p' "
     "| "
     "sed '1s/.*/{/;$s/.*/}/'"},
    {"device", "bagsplit timers data/demo --write-device watches.json >/dev/null 2>&1; cat watches.json"},
};

INSTANTIATE_TEST_SUITE_P(Commands, Answers, testing::ValuesIn(cases), [](const auto& one) {
  std::string name = std::string(one.param.schema) + "_" + std::to_string(one.index);
  std::replace(name.begin(), name.end(), '-', '_');
  return name;
});

// Identity: with all its digits an age beside the date of a run is the date of birth; one decimal leaves five weeks.
TEST(AnswersOnAges, HaveOneDecimal) {
  Surroundings surroundings;
  surroundings.program = BAGSPLIT_PROGRAM;
  surroundings.data = BAGSPLIT_DATA_DIR;
  Workplace place(surroundings);
  for (const char* command :
       {"profile data/demo", "standings data/demo --by time:first@home-first", "teams data/demo --players 7,12,14,24",
        "trend data/demo", "path data/demo --player 12"}) {
    const auto json = nlohmann::json::parse(place.run("bagsplit " + std::string(command) + " --format json", "").out);
    std::size_t ages = 0;
    const auto flat = json.flatten();
    for (const auto& [name, value] : flat.items()) {
      if (name.ends_with("age_years") || name.ends_with("age_first_years") || name.ends_with("age_last_years")) {
        EXPECT_TRUE(value.is_null() || value.dump().size() <= 4) << command << " " << name << " " << value;
        ages += value.is_null() ? 0U : 1U;
      }
    }
    EXPECT_GT(ages, 0U) << command;
    const std::string csv = place.run("bagsplit " + std::string(command) + " --format csv", "").out;
    EXPECT_FALSE(csv.empty());
    const bool first = csv.starts_with("player,age") || csv.starts_with("team,player,age");
    const std::size_t column = csv.starts_with("player,age") ? 1 : csv.starts_with("team,player,age") ? 2 : 3;
    for (std::size_t line = csv.find('\n') + 1; (first || csv.starts_with("group,")) && line < csv.size();
         line = csv.find('\n', line) + 1) {
      std::size_t from = line;
      for (std::size_t k = 0; k < column; ++k) {
        from = csv.find(',', from) + 1;
      }
      EXPECT_LE(csv.find(',', from) - from, 4U) << command << " " << csv.substr(line, 60);
    }
  }
}

}  // namespace
}  // namespace bagsplit::test
