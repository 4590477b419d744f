// Reading a norm table.
// Identity: what is written is what is read.
#include "bagsplit/norms/table.hpp"

#include <gtest/gtest.h>

#include "bagsplit/builtin/builtin.hpp"

namespace {

using bagsplit::norms::parse_table;
using bagsplit::runs::Sex;
using bagsplit::text::Problems;

TEST(NormTable, ReadsHeaderNamesAndRows) {
  Problems problems;
  const auto table = parse_table(
      "# 20 m, invented\n#   second line\nsex,age_lo_years,age_hi_years,n,distance_m,statistic,value_s\r\n"
      "F,8,8.25,10,20,p50,4.5\nm,8,8.25,NA,20,mean,4.6\nall,,,,20,mean,4.55\n\n",
      "x.csv", problems);
  EXPECT_TRUE(problems.empty());
  ASSERT_EQ(table.rows.size(), 3U);
  EXPECT_EQ(table.header, (std::vector<std::string>{"20 m, invented", "  second line"}));
  EXPECT_EQ(table.rows[0].sex, Sex::female);
  EXPECT_EQ(table.rows[0].n, 10.0);
  EXPECT_EQ(table.rows[0].statistic, "p50");
  EXPECT_EQ(table.rows[1].sex, Sex::male);
  EXPECT_FALSE(table.rows[1].n);
  EXPECT_FALSE(table.rows[2].sex);
  EXPECT_FALSE(table.rows[2].age_lo_yr);
  EXPECT_EQ(table.rows[2].value, 4.55);
}

TEST(NormTable, ReportsEveryBadRowAndKeepsTheRest) {
  Problems problems;
  const auto table = parse_table(
      "sex,age_lo_years,age_hi_years,n,distance_m,statistic,value_s\nF,8,9,1,20,mean,4.5x\nX,8,9,1,20,mean,4.5\n"
      "F,8,9,1,20,mean\nF,8,9,1,20,mean,inf\nF,8,9,1,20,mean,4.5\n",
      "x.csv", problems);
  EXPECT_EQ(table.rows.size(), 1U);
  ASSERT_EQ(problems.size(), 4U);
  EXPECT_EQ(problems[0].code, "bad-norm-cell");
  EXPECT_EQ(problems[0].line, 2U);
  EXPECT_EQ(problems[0].read, "4.5x");
  EXPECT_EQ(problems[1].read, "X");
  EXPECT_EQ(problems[2].code, "wrong-cell-count");
  EXPECT_EQ(problems[3].read, "inf");
}

TEST(NormTable, AnEmptyTextIsAProblem) {
  Problems problems;
  parse_table("# only a header\n", "x.csv", problems);
  ASSERT_EQ(problems.size(), 1U);
  EXPECT_EQ(problems[0].code, "empty-norm-table");
}

TEST(NormTable, EveryBuiltInTableIsReadWholeAndSaysItsSource) {
  std::size_t seen = 0;
  for (const auto& file : bagsplit::builtin::files()) {
    if (!file.name.starts_with("norms/") || !file.name.ends_with(".csv")) {
      continue;
    }
    Problems problems;
    const auto table = parse_table(file.text, file.name, problems);
    EXPECT_TRUE(problems.empty()) << file.name;
    EXPECT_FALSE(table.rows.empty()) << file.name;
    EXPECT_GE(table.header.size(), 4U) << file.name;
    ++seen;
  }
  EXPECT_EQ(seen, 28U);
}

}  // namespace
