#include "bagsplit/present/text/problem_text.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <nlohmann/json.hpp>
#include <string>

#include "bagsplit/text/text_width.hpp"

namespace {

using namespace bagsplit::present;
namespace text = bagsplit::text;
using bagsplit::text::Problem;
using bagsplit::text::Problems;
using bagsplit::text::Severity;

text::Problem bad_time() {
  text::Problem problem;
  problem.code = "bad-time";
  problem.path = "night1.csv";
  problem.line = 7;
  problem.column = 28;
  problem.length = 4;
  problem.message = "'first' is not a time";
  problem.read = "4:o5";
  problem.expected = "seconds such as 4.05, or minutes and seconds such as 1:04.05";
  problem.hint = "a letter o stands where a zero may be meant";
  problem.source_line = "2026-04-11,12,circuit,1,AK,4:o5,8.02,12.10,16.31,,";
  return problem;
}

// Source: GNU Coding Standards, section 4.4: sourcefile:lineno:column: message.
TEST(ProblemText, HasTheFormThatEditorsJumpTo) {
  EXPECT_EQ(format_problem(bad_time()), R"(night1.csv:7:28: error: 'first' is not a time: "4:o5"
  line: 2026-04-11,12,circuit,1,AK,>>4:o5<<,8.02,12.10,16.31,,
  expected: seconds such as 4.05, or minutes and seconds such as 1:04.05
  hint: a letter o stands where a zero may be meant
)");
}

// Identity: the marks stand round the characters meant.
TEST(ProblemText, TheMarksStandRoundWideCharactersAndBehindTabs) {
  text::Problem problem;
  problem.code = "bad-time";
  problem.path = "a.csv";
  problem.line = 12;
  problem.message = "m";
  problem.source_line = "\xE8\xB5\xB0,x";  // one wide character
  problem.column = 3;
  problem.length = 1;
  EXPECT_EQ(format_problem(problem), "a.csv:12:3: error: m\n  line: \xE8\xB5\xB0,>>x<<\n");
  problem.column = 1;
  EXPECT_EQ(format_problem(problem), "a.csv:12:1: error: m\n  line: >>\xE8\xB5\xB0<<,x\n");
  problem.source_line = "a\tbb";
  problem.column = 3;
  problem.length = 2;
  EXPECT_EQ(format_problem(problem), "a.csv:12:3: error: m\n  line: a\t>>bb<<\n");
  problem.column = 5;  // past the end: something is missing there
  problem.length = 0;
  EXPECT_EQ(format_problem(problem), "a.csv:12:5: error: m\n  line: a\tbb>><<\n");
}

TEST(ProblemText, WhatCouldSteerATerminalIsNotShownAsItIs) {
  text::Problem problem = bad_time();
  problem.read = "\x1B[31m";
  problem.source_line = "a\x1B[31m\xE2\x80\xAE\xFF";
  problem.column = 2;
  problem.length = 5;
  const std::string text = format_problem(problem);
  EXPECT_EQ(text.find('\x1B'), std::string::npos);
  EXPECT_EQ(text.find("\xE2\x80\xAE"), std::string::npos);
  EXPECT_NE(text.find("\xEF\xBF\xBD[31m"), std::string::npos);
}

TEST(ProblemText, ALongLineIsCutToAWindowAroundThePlace) {
  text::Problem problem = bad_time();
  problem.source_line = std::string(500, 'a') + "4:o5" + std::string(500, 'b');
  problem.column = 501;
  const std::string text = format_problem(problem, {.source = true, .line_characters = 40});
  EXPECT_NE(text.find("  line: ...aaaaaaaaaa>>4:o5<<bbbbbbbbbbbbbbbbbbbbbbbbbb...\n"), std::string::npos) << text;
}

TEST(ProblemText, ProblemsAreCountedByKind) {
  text::Problems problems;
  EXPECT_EQ(format_problems(problems), "");
  EXPECT_EQ(count_line(problems), "no problems");
  problems.assign(4, bad_time());
  problems[1].severity = text::Severity::suspicion;
  problems[2].severity = text::Severity::note;
  EXPECT_EQ(count_line(problems), "2 errors, 1 suspicion, 1 note");
}

// Identity: the machine form has the same fields.
TEST(ProblemText, TheJsonFormHasEveryField) {
  const auto json = nlohmann::json::parse(problems_json({bad_time()}));
  ASSERT_EQ(json.size(), 1U);
  EXPECT_EQ(json[0]["severity"], "error");
  EXPECT_EQ(json[0]["code"], "bad-time");
  EXPECT_EQ(json[0]["line"], 7);
  EXPECT_EQ(json[0]["column"], 28);
  EXPECT_EQ(json[0]["length"], 4);
  EXPECT_EQ(json[0]["read"], "4:o5");
  EXPECT_EQ(json[0].size(), 11U);
  text::Problem of_file;
  of_file.message = "bad \xFF byte";
  const auto other = nlohmann::json::parse(problems_json({of_file}));
  EXPECT_TRUE(other[0]["line"].is_null());
  EXPECT_EQ(other[0]["message"], "bad \xEF\xBF\xBD byte");
  EXPECT_EQ(problems_json({}), "[]");
}

// Source: Unicode 15, EastAsianWidth.txt and general categories of the characters named.
TEST(TextWidth, CellsAreCountedNotCharacters) {
  EXPECT_EQ(text::display_width("abc"), 3U);
  EXPECT_EQ(text::display_width("Zo\xC3\xAB"), 3U);
  EXPECT_EQ(text::display_width("Zoe\xCC\x88"), 3U);               // combining diaeresis
  EXPECT_EQ(text::display_width("\xE8\xB5\xB0\xE5\xA1\x81"), 4U);  // two ideographs
  EXPECT_EQ(text::display_width("\xF0\x9F\x98\x80"), 2U);          // emoji
  EXPECT_EQ(text::display_width("\xEF\xBC\xA1"), 2U);              // fullwidth A
  EXPECT_EQ(text::display_width("\xEF\xBD\xB1"), 1U);              // halfwidth katakana
  EXPECT_EQ(text::display_width("\xFF"), 1U);
}

// Identity: the code is the problem's own.
TEST(ProblemText, TheCodeIsToldWhereAskedFor) {
  EXPECT_EQ(format_problem(bad_time()).find("bad-time"), std::string::npos);
  EXPECT_TRUE(format_problem(bad_time(), {.codes = true}).ends_with("  code: bad-time\n"));
}

// Identity: nothing is dropped, three of a kind are shown, an unknown word once, and a rare problem is not drowned.
TEST(ProblemText, OneMistakeOnEveryRowIsToldOnceMore) {
  text::Problems problems;
  const auto add = [&](std::size_t line, const char* code, const char* read, const char* expected) {
    text::Problem problem;
    problem.code = code;
    problem.path = "a.csv";
    problem.line = line;
    problem.read = read;
    problem.expected = expected;
    problems.push_back(problem);
  };
  for (std::size_t line = 2; line <= 12; ++line) {
    add(line, "bad-date", line == 9 ? "x" : "11/04/2026", "a date");
    if (line == 5) {
      add(line, "bad-time", "DNF", "a time");
    }
    if (line == 4 || line == 8) {
      add(line, "unknown-course", "circiut", "a course");
    }
    if (line == 6) {
      add(line, "unknown-course", "hme", "a course");
    }
  }
  const auto folded = fold_problems(problems);
  std::string shown;
  std::vector<int> seen(problems.size());
  for (const FoldedProblem& one : folded) {
    shown +=
        problems[one.index].code + "@" + std::to_string(problems[one.index].line) + "\n" + more_like_it(problems, one);
    ++seen[one.index];
    for (const std::size_t k : one.more) {
      ++seen[k];
    }
  }
  EXPECT_EQ(shown,
            "bad-date@2\nbad-date@3\nbad-date@4\n  and 8 more like it on lines 5-12: \"x\"\n"
            "unknown-course@4\n  and 1 more like it on line 8\n"
            "bad-time@5\nunknown-course@6\n");
  EXPECT_EQ(std::count(seen.begin(), seen.end(), 1), static_cast<std::ptrdiff_t>(problems.size()));
}

}  // namespace
