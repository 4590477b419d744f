// Identity: reading undoes writing.
#include "cli/case_file.hpp"

#include <gtest/gtest.h>

#include <stdexcept>

namespace {

using bagsplit::test::parse_case;
using bagsplit::test::write_case;

constexpr std::string_view plain =
    "# Shows something.\n# And more.\n\n--- file a.csv\na,b\n1,2\n--- run\nbagsplit check a.csv\n--- stdin\nx\n--- "
    "stdout contains\n"
    "fine\n--- exit 1\n";

std::string complaint(std::string_view text) {
  try {
    parse_case(text);
  } catch (const std::runtime_error& error) {
    return error.what();
  }
  return "";
}

TEST(CaseFile, IsReadSectionBySection) {
  const auto file = parse_case(plain);
  EXPECT_EQ(file.comment, "# Shows something.\n# And more.\n\n");
  ASSERT_EQ(file.sections.size(), 5U);
  EXPECT_EQ(file.sections[0].kind, "file");
  EXPECT_EQ(file.sections[0].name, "a.csv");
  EXPECT_EQ(file.sections[0].body, "a,b\n1,2\n");
  EXPECT_EQ(file.sections[0].line, 4U);
  EXPECT_EQ(file.sections[3].mode, "contains");
  EXPECT_EQ(file.sections[4].name, "1");
}

TEST(CaseFile, IsWrittenAsItWasRead) {
  EXPECT_EQ(write_case(parse_case(plain)), plain);
}

TEST(CaseFile, AnyBytesSurviveTheRoundTrip) {
  auto file = parse_case("# Shows something.\n--- run\nbagsplit\n--- stdout\n");
  for (const std::string& body :
       {std::string(""), std::string("\n"), std::string("no end"),
        std::string("\xEF\xBB\xBF"
                    "a\r\n\tb\\n\n"),
        std::string("--- run\n"), std::string("a\n--- exit 1\n"), std::string("nul \0 in it", 11),
        std::string("back\\slash\\"), std::string("caf\xC3\xA9\n"), std::string("end \\\n")}) {
    file.sections[1].body = body;
    EXPECT_EQ(parse_case(write_case(file)).sections.at(1).body, body) << write_case(file);
  }
}

TEST(CaseFile, SlipsAreToldWithTheirLine) {
  EXPECT_EQ(complaint("--- run\nx\n"), "1: the first line says what the case shows: # ...");
  EXPECT_EQ(complaint("# a\n--- file x\n"), "2: nothing is run");
  EXPECT_EQ(complaint("# a\n--- stdout\n--- run\n"), "2: stdout comes after the run it belongs to");
  EXPECT_EQ(complaint("# a\n--- run\n--- exit one\n"), "3: exit wants a number");
  EXPECT_EQ(complaint("# a\n--- run\n--- stdout exactly\n"), "3: 'exactly' means nothing after 'stdout'");
  EXPECT_EQ(complaint("# a\n--- run\n--- stdout escaped\n\\q\n"),
            "3: unknown escape (known: \\\\ \\n \\r \\t \\xHH and \\ at the end of a line)");
  EXPECT_EQ(complaint("# a\n--- run\n--- exit 1\nmore\n"), "4: nothing may follow this section's heading");
}

}  // namespace
