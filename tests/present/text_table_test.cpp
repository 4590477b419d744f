#include "bagsplit/text/text_table.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <sstream>

#include "bagsplit/text/text_width.hpp"

namespace bagsplit::present {
namespace {

std::vector<std::string> lines_of(const std::string& text) {
  std::vector<std::string> lines;
  std::istringstream stream(text);
  for (std::string line; std::getline(stream, line);) {
    lines.push_back(line);
  }
  return lines;
}

TEST(TextTable, AlignsByCellsWithUnitsBelowTheHeadings) {
  text::TextTable table({{"player", "", text::Align::left}, {"top speed", "m/s"}});
  table.add_row({"Zo\xC3\xAB", "6.10"});
  table.add_row({"\xE5\xB1\xB1\xE7\x94\xB0", "-"});
  table.add_row({"12", "5.98 "});
  EXPECT_EQ(table.str({}),
            "player  top speed\n"
            "              m/s\n"
            "------  ---------\n"
            "Zo\xC3\xAB          6.10\n"
            "\xE5\xB1\xB1\xE7\x94\xB0            -\n"
            "12          5.98\n");
}

// Identity: no line is wider than the page, each cell is there once, the key in every block.
TEST(TextTable, ATableTooWideIsBrokenIntoBlocks) {
  std::vector<text::TextTable::Column> columns{{"player", "", text::Align::left}};
  for (int j = 0; j < 12; ++j) {
    columns.push_back({"quantity " + std::to_string(100 + j), "s"});
  }
  text::TextTable table(columns);
  std::vector<std::string> row{"Nia"};
  for (int j = 0; j < 12; ++j) {
    row.push_back("value" + std::to_string(100 + j));
  }
  table.add_row(row);
  for (const std::size_t width : {40U, 80U, 200U}) {
    const std::string text = table.str({.width = width}, 2);
    std::size_t blocks = 0;
    for (const std::string& line : lines_of(text)) {
      EXPECT_LE(text::display_width(line), width);
      EXPECT_FALSE(line.ends_with(' '));
      blocks += line.find("Nia") != std::string::npos ? 1U : 0U;
    }
    EXPECT_EQ(blocks > 1, width < 200);
    for (int j = 0; j < 12; ++j) {
      const std::string cell = "value" + std::to_string(100 + j);
      EXPECT_NE(text.find(cell), std::string::npos);
      EXPECT_EQ(text.find(cell), text.rfind(cell));
    }
  }
}

TEST(TextTable, TheLastColumnMayWrap) {
  text::TextTable table({{"id", "", text::Align::left}, {"citation", "", text::Align::left, true}});
  table.add_row({"sprint-20m", "A long citation of many words that must be broken to fit the page it stands on"});
  table.add_row({"none", ""});
  const auto lines = lines_of(table.str({.width = 40}));
  ASSERT_EQ(lines.size(), 6U);
  EXPECT_EQ(lines[2], "sprint-20m  A long citation of many");
  EXPECT_EQ(lines[3], "            words that must be broken to");
  EXPECT_EQ(lines[5], "none");
}

TEST(TextTable, NamesCannotSteerTheTerminal) {
  text::TextTable table({{"player"}});
  table.add_row({"\x1B]0;x\x07"});
  const std::string text = table.str({});
  EXPECT_TRUE(
      std::all_of(text.begin(), text.end(), [](char c) { return c == '\n' || static_cast<unsigned char>(c) >= 0x20; }));
}

TEST(TextTable, WrongNumberOfCellsIsABug) {
  text::TextTable table({{"a"}, {"b"}});
  EXPECT_THROW(table.add_row({"1"}), std::invalid_argument);
}

}  // namespace
}  // namespace bagsplit::present
