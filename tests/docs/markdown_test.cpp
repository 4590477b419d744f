// Common practice, no source: fenced blocks as GitHub shows them.
#include "docs/markdown.hpp"

#include <gtest/gtest.h>

namespace {

using namespace bagsplit::test;

TEST(Markdown, BlocksHaveLanguageRestBodyAndLine) {
  const auto blocks =
      blocks_of("Text\n```csv night1.csv\na,b\n\n1,2\n```\n\n```sh\nbagsplit\n```\nend\n```text stderr\n```\n");
  ASSERT_EQ(blocks.size(), 3U);
  EXPECT_EQ(blocks[0].language, "csv");
  EXPECT_EQ(blocks[0].rest, "night1.csv");
  EXPECT_EQ(blocks[0].body, "a,b\n\n1,2\n");
  EXPECT_EQ(blocks[0].line, 3U);
  EXPECT_EQ(blocks[1].language, "sh");
  EXPECT_EQ(blocks[1].rest, "");
  EXPECT_EQ(blocks[2].rest, "stderr");
  EXPECT_EQ(blocks[2].body, "");
}

TEST(Markdown, CommandsAreTheLinesThatBeginWithTheProgram) {
  const auto commands =
      commands_of({"sh", "", "git clone x\nbagsplit a \\\n  b\nbagsplits c\nbagsplit check x.csv  # exit 1\n", 10});
  ASSERT_EQ(commands.size(), 2U);
  EXPECT_EQ(commands[0].text, "bagsplit a \\\n  b");
  EXPECT_EQ(commands[0].exit_code, 0);
  EXPECT_EQ(commands[0].line, 11U);
  EXPECT_EQ(commands[1].text, "bagsplit check x.csv");
  EXPECT_EQ(commands[1].exit_code, 1);
  EXPECT_EQ(commands[1].line, 14U);
}

TEST(Markdown, GapsStandForAnyLines) {
  EXPECT_TRUE(matches_with_gaps("a\nb\n", "a\nb\n"));
  EXPECT_FALSE(matches_with_gaps("a\nb\n", "a\nc\n"));
  EXPECT_FALSE(matches_with_gaps("a\n", "a\nb\n"));
  EXPECT_FALSE(matches_with_gaps("a\nb\n", "a\n"));
  EXPECT_TRUE(matches_with_gaps("a\n...\nd\n", "a\nb\nc\nd\n"));
  EXPECT_TRUE(matches_with_gaps("a\n...\nd\n", "a\nd\n"));
  EXPECT_TRUE(matches_with_gaps("...\nd\n...\n", "c\nd\nd\ne\n"));
  EXPECT_FALSE(matches_with_gaps("a\n...\nd\n", "a\nb\n"));
}

}  // namespace
