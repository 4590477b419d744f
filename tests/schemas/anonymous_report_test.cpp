// What --anonymise hides is in no file it makes, and what it prints is what would be printed without it.
#include <gtest/gtest.h>

#include <algorithm>
#include <nlohmann/json.hpp>
#include <regex>

#include "support/process.hpp"

namespace bagsplit::test {
namespace {

namespace fs = std::filesystem;

Surroundings surroundings() {
  Surroundings out;
  out.program = BAGSPLIT_PROGRAM;
  out.data = BAGSPLIT_DATA_DIR;
  return out;
}

// Every value occurs nowhere else in a page, so that finding one is telling it.
constexpr const char* roster =
    "player,bib,name,sex,born,height_cm,mass_kg,sitting_height_cm,team\n"
    "zebra31,8131,Wilhelmina Quartz,F,2014-10-02,148.71,38.27,77.13,Vermilion Otters\n"
    "quokka47,8247,Ottoline Flint,F,2015-01-20,151.63,41.93,78.29,Vermilion Otters\n"
    "okapi59,8359,Barnaby Chert,M,2013-08-29,155.47,44.61,80.37,Cerulean Voles\n"
    "tapir62,8462,Peregrine Slate,M,2016-03-17,139.83,33.79,73.51,Cerulean Voles\n";
const std::vector<std::string> hidden{
    "zebra31",    "quokka47",   "okapi59",  "tapir62", "8131",      "8247",      "8359",       "8462",
    "Wilhelmina", "Quartz",     "Ottoline", "Flint",   "Barnaby",   "Chert",     "Peregrine",  "Slate",
    "2014-10",    "2015-01",    "2013-08",  "2016-03", "10-02",     "01-20",     "08-29",      "03-17",
    "148.71",     "151.63",     "155.47",   "139.83",  "1.4871",    "1.5163",    "1.5547",     "1.3983",
    "38.27",      "41.93",      "44.61",    "33.79",   "77.13",     "78.29",     "80.37",      "73.51",
    "0.7713",     "0.7829",     "0.8037",   "0.7351",  "Vermilion", "Otters",    "Cerulean",   "Voles",
    "Larkmeadow", "Thornfield", "QXJ",      "VJK",     "evening-1", "evening-2", "2026-04-14", "2026-05-19",
    "2026-06-23", "04-14",      "05-19",    "06-23",   "~p0",       "~t0",       "~e0",        "~w0",
    "~f0"};

// Where the value stands by itself, and not as digits of another number; npos: nowhere.
std::size_t place_of(const std::string& value, const std::string& text) {
  const auto is_digit = [&](std::size_t k) { return k < text.size() && text[k] >= '0' && text[k] <= '9'; };
  for (std::size_t at = text.find(value); at != std::string::npos; at = text.find(value, at + 1)) {
    const bool number = value[0] >= '0' && value[0] <= '9';
    const bool goes_on = is_digit(at + value.size()) || (at > 0 && (is_digit(at - 1) || text[at - 1] == '.'));
    if (!number || !goes_on) {
      return at;
    }
  }
  return std::string::npos;
}

void write_season(const fs::path& folder) {
  const std::string header =
      "# base-distance: 60 ft\ndate,place,player,course,trial,timer,team,leg,first,second,third,home\n";
  const std::vector<std::string> players{"zebra31", "quokka47", "okapi59", "tapir62"};
  int file = 0;
  for (const auto& [date, place, faster] :
       {std::tuple{"2026-04-14", "Larkmeadow", 0.0}, std::tuple{"2026-05-19", "Thornfield", 0.11},
        std::tuple{"2026-06-23", "Larkmeadow", 0.23}}) {
    std::string text = header;
    for (std::size_t k = 0; k < players.size(); ++k) {
      for (int trial = 1; trial <= 3; ++trial) {
        for (const auto& [timer, off] : {std::pair{"QXJ", 0.0}, std::pair{"VJK", 0.07}}) {
          text += std::string(date) + "," + place + "," + players[k] + ",circuit," + std::to_string(trial) + "," +
                  timer + ",,";
          const double slip_s = file == 0 && k == 1 && trial == 2 && off > 0.0 ? 1.3 : 0.0;  // named with its file
          for (int bag = 1; bag <= 4; ++bag) {
            const double time_s =
                bag * (4.03 + 0.09 * static_cast<double>(k) - 0.5 * faster + 0.01 * trial) + off + slip_s;
            text += "," + std::to_string(time_s).substr(0, 5);
          }
          text += "\n";
        }
      }
    }
    for (const auto& [team, first, second, late] : {std::tuple{"Vermilion Otters", "zebra31", "quokka47", 0.0},
                                                    std::tuple{"Cerulean Voles", "okapi59", "tapir62", 0.4}}) {
      for (const auto& [leg, player, at] :
           {std::tuple{1, first, 8.31 + late}, std::tuple{2, second, 16.90 + 2 * late}}) {
        text += std::string(date) + "," + place + "," + player + ",home-second,9,QXJ," + team + "," +
                std::to_string(leg) + ",," + std::to_string(at).substr(0, 5) + ",,\n";
      }
    }
    write_file(folder / ("evening-" + std::to_string(++file) + ".csv"), text);
  }
  write_file(folder / "roster.csv", roster);
}

const std::vector<std::string> pages{
    "",
    "--each",
    "--each --places",
    "--player zebra31 --player okapi59 --places",
    "--each --relay",
    "--relay --order 'Vermilion Otters=zebra31,okapi59' --order 'Cerulean Voles=tapir62,quokka47'",
    "--evaluation --age-groups --cut 1 --next-runs 4",
    "--evaluation --method best --cut 2 --places"};

// Identity: nothing that tells who, where or when is left.
TEST(AnonymousReport, HoldsNothingThatWasHidden) {
  Workplace place(surroundings());
  fs::create_directory(place.folder() / "season");
  write_season(place.folder() / "season");
  std::string plain;
  const std::regex age_to_a_tenth("(girls|boys|children) of [0-9]+\\.[0-9] years");
  for (const std::string& page : pages) {
    const std::string command = "bagsplit report season " + page;
    for (const std::string form : {"html", "json"}) {
      const Outcome open = place.run(command + " --format " + form, "");
      ASSERT_EQ(open.exit_code, 0) << command << open.err;
      plain += open.out;
      const Outcome closed = place.run(command + " --anonymise --format " + form, "");
      ASSERT_EQ(closed.exit_code, 0) << command << closed.err;
      EXPECT_NE(closed.out.find("p-"), std::string::npos);
      std::smatch age;
      EXPECT_FALSE(std::regex_search(closed.out, age, age_to_a_tenth)) << command << " " << form << ": " << age.str();
      for (const std::string& value : hidden) {
        EXPECT_EQ(place_of(value, closed.out), std::string::npos)
            << command << " " << form << ": " << value << " in "
            << closed.out.substr(std::max<std::size_t>(place_of(value, closed.out), 60) - 60, 120);
      }
    }
  }
  // What the pages hold without the option: a test that looks for nothing finds nothing.
  for (const char* value : {"zebra31", "Vermilion", "Larkmeadow", "QXJ", "evening-", "2026-04-14", "04-14"}) {
    EXPECT_NE(plain.find(value), std::string::npos) << value;
  }
}

// Identity: the same of a file each.
TEST(AnonymousReport, FilesAndTheirNamesHideToo) {
  Workplace place(surroundings());
  fs::create_directory(place.folder() / "season");
  write_season(place.folder() / "season");
  const Outcome made = place.run("bagsplit report season --each --places --anonymise -o pages/", "");
  ASSERT_EQ(made.exit_code, 0) << made.err;
  std::size_t files = 0;
  for (const auto& file : fs::directory_iterator(place.folder() / "pages")) {
    ++files;
    const std::string text = file.path().filename().string() + read_file(file.path());
    for (const std::string& value : hidden) {
      EXPECT_EQ(place_of(value, text), std::string::npos) << file.path() << ": " << value;
    }
  }
  EXPECT_EQ(files, 5U);
}

// Identity: what was worked out is the same to the last digit, by id or by code.
TEST(AnonymousReport, IsWorkedOutFromTheTrueData) {
  Workplace place(surroundings());
  const std::string command =
      "bagsplit report data/demo --evaluation --by time:first@home-first --age-groups --cut 3 --next-runs 4 --format "
      "json";
  auto open = nlohmann::json::parse(place.run(command, "").out).at("standings");
  auto closed = nlohmann::json::parse(place.run(command + " --anonymise", "").out).at("standings");
  ASSERT_EQ(open.at("players").size(), closed.at("players").size());
  for (std::size_t k = 0; k < open.at("players").size(); ++k) {
    const auto& a = open.at("players").at(k);
    const auto& b = closed.at("players").at(k);
    for (const char* key : {"group", "place", "value", "expected_rank", "p_in_cut", "tier", "status", "rank_lo",
                            "rank_hi", "league_age", "runs_used"}) {
      EXPECT_EQ(a.at(key), b.at(key)) << a.at("player") << " " << key;
    }
    if (!a.at("age_years").is_null()) {
      EXPECT_NEAR(b.at("age_years").get<double>(), std::floor(a.at("age_years").get<double>()), 1.0);
      EXPECT_EQ(b.at("age_years").get<double>(), std::floor(b.at("age_years").get<double>()));
    }
  }
  EXPECT_EQ(open.at("groups"), closed.at("groups"));
  EXPECT_EQ(open.at("expected_wrong_cuts"), closed.at("expected_wrong_cuts"));
}

}  // namespace
}  // namespace bagsplit::test
