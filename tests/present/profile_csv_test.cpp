#include "bagsplit/present/machine/profile_csv.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <map>
#include <sstream>

#include "present/profile_fixture.hpp"

namespace bagsplit::present {
namespace {

std::vector<std::string> fields_of(const std::string& line) {
  std::vector<std::string> fields;
  std::istringstream stream(line + ",");
  for (std::string field; std::getline(stream, field, ',');) {
    fields.push_back(field);
  }
  return fields;
}

// Identity: long form, one row a player and quantity, the header's number of fields in each.
TEST(ProfileCsv, IsLongForm) {
  std::istringstream lines(profile_csv(fixture::squad({fixture::full_player("12"), fixture::bare_player("7")})));
  std::string line;
  std::getline(lines, line);
  EXPECT_EQ(line,
            "player,age_years,sex,runs_used,runs_left_out,quantity,mean,sd,lo,median,hi,share_from_data,level,source");
  std::map<std::pair<std::string, std::string>, std::vector<std::string>> rows;
  while (std::getline(lines, line)) {
    const std::vector<std::string> fields = fields_of(line);
    ASSERT_EQ(fields.size(), 14U) << line;
    EXPECT_TRUE(rows.emplace(std::pair(fields[0], fields[5]), fields).second) << "twice: " << line;
  }
  const auto& speed = rows.at({"12", "top_speed_mps"});
  EXPECT_EQ(speed[1], "11.3");
  EXPECT_EQ(speed[2], "F");
  EXPECT_EQ(speed[9], "6.12");
  EXPECT_EQ(speed[11], "0.3");
  EXPECT_EQ(speed[12], "0.9");
  EXPECT_EQ(rows.at({"12", "segment_loss_s.second-stop"})[9], "0.6");
  const auto& percentile = rows.at({"12", "percentile.50m"});
  EXPECT_EQ(percentile[9], "61");
  EXPECT_EQ(percentile[11], "");
  EXPECT_EQ(percentile[13], "sprint-50m-japan-2017");
  // What cannot be told has a row with empty fields.
  const auto& bare = rows.at({"7", "reaction_s"});
  EXPECT_EQ(bare[1], "");
  EXPECT_EQ(bare[6], "");
  EXPECT_EQ(bare[10], "");
  EXPECT_TRUE(rows.contains({"7", "segment_loss_s.home"}));
}

TEST(ProfileCsv, AnIdWithACommaIsQuoted) {
  const std::string csv = profile_csv(fixture::squad({fixture::bare_player("Ada, \"A\"")}));
  EXPECT_NE(csv.find("\n\"Ada, \"\"A\"\"\",,,0,0,top_speed_mps,"), std::string::npos);
}

}  // namespace
}  // namespace bagsplit::present
