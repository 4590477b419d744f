// Common practice, no source: each rule finds what it is for and lets its neighbours pass.
#include "architecture/rules.hpp"

#include <gtest/gtest.h>

namespace {

using namespace bagsplit::test;

std::size_t count(std::vector<Finding> (*rule)(const SourceFile&), const char* path, std::string text) {
  return rule({path, std::move(text)}).size();
}

// A word that the rules would find in this very file is put together from two halves.
const std::string to_do = std::string("TO") + "DO";

TEST(TakeApart, SeparatesCommentsCodeAndLiterals) {
  const auto parts =
      take_apart("int a = 1'000;  // one\nauto s = \"two // three\"; /* four\nfive */ char c = '\\'';\n");
  EXPECT_EQ(parts.code, "int a = 1'000;        \nauto s = \"             ;        \n        char c = '   ;\n");
  EXPECT_EQ(parts.comments, "                // one\n                         /* four\nfive */               \n");
}

TEST(TakeApart, KnowsRawStrings) {
  const auto parts = take_apart("auto s = R\"x(a \" // b\n)\" )x\"; f();\n");
  EXPECT_EQ(parts.code, "auto s = R\"          \n      ; f();\n");
  EXPECT_EQ(parts.comments.find('/'), std::string::npos);
}

TEST(Rules, ATestNeedsOneOfTheFiveForms) {
  for (const char* line : {"// Source: Furusawa (1927), table 2", "  // Computed: R 4.2.2, reference/icc.R",
                           "// Identity: t(0) = 0", "// Common practice, no source", "// From memory, unverified"}) {
    EXPECT_EQ(count(tests_without_source, "tests/a/a_test.cpp", std::string("int x;\n") + line + "\n"), 0U) << line;
  }
  for (const char* line : {"// Source: a paper", "// Computed: somewhere", "// Identity:", "// source: X (1990)", ""}) {
    EXPECT_EQ(count(tests_without_source, "tests/a/a_test.cpp", std::string("int x;\n") + line + "\n"), 1U) << line;
  }
}

TEST(Rules, EachTestWithANumberSaysWhereItIsFrom) {
  const std::string from = "// Source: a paper (1990)\n";
  const std::string one = "TEST(A, B) {\n  EXPECT_NE" + std::string("AR(f(), 1.25, 1e-9);\n}\n");
  EXPECT_EQ(count(tests_without_source, "tests/a_test.cpp", from + one), 0U);
  const auto findings = tests_without_source({"tests/a_test.cpp", from + one + "\n" + one});
  ASSERT_EQ(findings.size(), 1U);
  EXPECT_EQ(findings[0].line, 7U);
  EXPECT_EQ(count(tests_without_source, "tests/a_test.cpp", from + one + "\n// Identity: of f\n" + one), 0U);
  EXPECT_EQ(count(tests_without_source, "tests/a_test.cpp", from + one + "TEST(A, C) {\n  EXPECT_EQ(n, 12);\n}\n"), 0U);
}

TEST(Rules, LeftOverWorkIsFoundWithItsLine) {
  const auto findings = left_over_work({"lib/a.cpp", "int a;\n// " + to_do + " later\n"});
  ASSERT_EQ(findings.size(), 1U);
  EXPECT_EQ(findings[0].line, 2U);
  EXPECT_EQ(count(left_over_work, "tests/a_test.cpp", std::string("GTEST_") + "SKIP() << 1;"), 1U);
  EXPECT_EQ(count(left_over_work, "tests/a_test.cpp", std::string("TEST(A, DIS") + "ABLED_B) {}"), 1U);
  EXPECT_EQ(count(left_over_work, "tests/a_test.cpp", std::string("EXPECT_TRUE(tr") + "ue);"), 1U);
  EXPECT_EQ(count(left_over_work, "tests/a_test.cpp", std::string("SUC") + "CEED();"), 1U);
  EXPECT_EQ(count(left_over_work, "tests/a_test.cpp", "EXPECT_TRUE(true_positive(x));"), 0U);
}

TEST(Rules, MachinesAndForeignDocumentsAreFound) {
  EXPECT_EQ(count(foreign_places, "a", std::string("read(\"/ho") + "me/me/x.csv\")"), 1U);
  EXPECT_EQ(count(foreign_places, "a", std::string("see iss") + "ue 12"), 1U);
  EXPECT_EQ(count(foreign_places, "a", std::string("see DES") + "IGN 4.2"), 1U);
  EXPECT_EQ(count(foreign_places, "a", std::string("http://deb.deb") + "ian.org/x"), 1U);
  EXPECT_EQ(
      count(foreign_places, "a", "home/first, /data/home-first.csv, back/home/first, https://doi.org/10.1/home/x"), 0U);
}

TEST(Rules, AnOptionInAMessageIsFound) {
  using bagsplit::test::options_named;
  EXPECT_EQ(options_named({"lib/a.cpp", "say(\"name it with --course\");\n"}).size(), 1U);
  EXPECT_TRUE(options_named({"lib/a.cpp", "const int x = --y;  // a--b\n"}).empty());
}

TEST(Rules, TheLibraryStaysPure) {
  const char* const path = "lib/bagsplit/a/a.cpp";
  for (const char* line :
       {"std::cout << 1;", "printf(\"x\");", "std::exit(1);", "std::getenv(\"X\");", "std::stod(s);",
        "std::chrono::system_clock::now();", "std::normal_distribution<> n;", "snprintf(b, 1, f);"}) {
    EXPECT_EQ(count(impure_calls, path, line), 1U) << line;
  }
  for (const char* line :
       {"// std::cout", "auto s = \"exit(1)\";", "using Date = std::chrono::sys_days;", "on_exit_lane(1);",
        "std::from_chars(a, b, c);", "double exit = 1;", "boost::random::normal_distribution<> n;"}) {
    EXPECT_EQ(count(impure_calls, path, line), 0U) << line;
  }
}

TEST(Rules, ShiftsThatNeed64BitsSayThem) {
  for (const char* line : {"n > (std::size_t{1} << 32);", "std::size_t(x) << 40U;", "1UL << 33", "x = 1u<<63;"}) {
    EXPECT_EQ(count(shifts_too_far, "lib/a.cpp", line), 1U) << line;
  }
  for (const char* line : {"std::uint64_t{1} << 32", "std::size_t{1} << 26U", "1ULL << 32U", "out << 32", "1U << 3"}) {
    EXPECT_EQ(count(shifts_too_far, "lib/a.cpp", line), 0U) << line;
  }
}

TEST(Rules, PragmaOnceComesFirst) {
  EXPECT_EQ(count(headers_without_pragma, "a.hpp", "#pragma once\n"), 0U);
  EXPECT_EQ(count(headers_without_pragma, "a.hpp", "// what\n\n#pragma once\n"), 0U);
  EXPECT_EQ(count(headers_without_pragma, "a.hpp", "#include <span>\n#pragma once\n"), 1U);
  EXPECT_EQ(count(headers_without_pragma, "a.hpp", ""), 1U);
  EXPECT_EQ(count(headers_without_pragma, "a.cpp", ""), 0U);
}

TEST(Rules, TheOwnHeaderComesFirst) {
  const auto found = [](const char* text, const char* header) {
    return bagsplit::test::own_header_not_first({"lib/bagsplit/text/a.cpp", text}, header).size();
  };
  EXPECT_EQ(found("#include \"bagsplit/text/a.hpp\"\n#include <span>\n", "#pragma once"), 0U);
  EXPECT_EQ(found("#include <span>\n#include \"bagsplit/text/a.hpp\"\n", "#pragma once"), 1U);
  EXPECT_EQ(found("#include \"bagsplit/text/ab.hpp\"\n", "#pragma once"), 1U);
  EXPECT_EQ(found("#include <span>\n", ""), 0U);
}

TEST(Rules, SpellingLooksAtProseOnly) {
  EXPECT_EQ(count(american_spelling, "a.cpp", "// ten meters from the Center\n"), 2U);
  EXPECT_EQ(count(american_spelling, "a.cpp",
                  "text(\"text-align: center\");  // parameters, metres, a peak flow meter, centred\n"),
            0U);
  EXPECT_EQ(count(american_spelling, "a.md", "Runs the `center` option; see https://a.example/center for more.\n"), 0U);
  EXPECT_EQ(count(american_spelling, "a.md", "The behavior of it.\n"), 1U);
}

TEST(Rules, WhitespaceIsLookedAt) {
  EXPECT_EQ(count(untidy_whitespace, "a.cpp", "a;\n\nb;\n"), 0U);
  EXPECT_EQ(count(untidy_whitespace, "a.cpp", "a; \n\tb;\nc;"), 3U);
}

TEST(Rules, DataSayTheirSource) {
  EXPECT_TRUE(data_without_source({"data/a/a.csv", "# Source: X (1990)\na,b\n"}, "").empty());
  EXPECT_TRUE(data_without_source({"data/a/a.csv", "# invented: yes\na,b\n"}, "").empty());
  EXPECT_TRUE(data_without_source({"data/a/a.json", R"({"b":{"source":"X"}})"}, "").empty());
  EXPECT_TRUE(data_without_source({"data/a/a.json", R"([{"sources":["x"]}])"}, "").empty());
  EXPECT_TRUE(data_without_source({"data/a/a.json", R"({"$comment":"Invented."})"}, "").empty());
  EXPECT_TRUE(
      data_without_source({"data/a/a.schema.json", R"({"$schema":"https://json-schema.org/draft/2020-12/schema"})"}, "")
          .empty());
  EXPECT_TRUE(data_without_source({"data/a/a.csv", "a,b\n"}, "`a.csv`: invented.").empty());
  EXPECT_TRUE(data_without_source({"data/a/a.csv", "a,b\n"}, "Every file here is invented.").empty());
  EXPECT_EQ(data_without_source({"data/a/a.csv", "source,b\n"}, "").size(), 1U);
  EXPECT_EQ(data_without_source({"data/a/a.csv", "a,b\n"}, "`b.csv`: invented.").size(), 1U);
  EXPECT_EQ(data_without_source({"data/a/a.json", R"({"b":{}})"}, "").size(), 1U);
  EXPECT_EQ(data_without_source({"data/a/a.json", R"({"source":)"}, "").size(), 1U);
}

TEST(Rules, AFileNobodyBuildsIsFound) {
  EXPECT_TRUE(files_not_built({"lib/bagsplit/a/run.cpp", ""}, "bagsplit_module(a SOURCES run.cpp)").empty());
  EXPECT_EQ(files_not_built({"lib/bagsplit/a/run.cpp", ""}, "bagsplit_module(a SOURCES rerun.cpp)").size(), 1U);
}

}  // namespace
