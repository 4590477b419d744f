#include <gtest/gtest.h>

#include "command_line.hpp"

namespace bagsplit::cli {
namespace {

// Common practice, no source: exit code 2 for a wrong command line, the nearest name offered.

std::string complaint(const std::vector<std::string>& arguments) {
  const Parsed parsed = parse(arguments);
  EXPECT_EQ(parsed.command, nullptr);
  EXPECT_EQ(parsed.ended, ExitCode::wrong_command_line);
  return parsed.text;
}

TEST(Parse, TakesOptionsInAnyOrderAndFilesBetweenThem) {
  const Parsed parsed =
      parse({"check", "a.csv", "--format", "json", "-", "--roster=r.csv", "b", "-o", "out.json", "--strict"});
  ASSERT_NE(parsed.command, nullptr) << parsed.text;
  EXPECT_STREQ(parsed.command->name, "check");
  EXPECT_EQ(parsed.invocation.input.logs, (std::vector<std::string>{"a.csv", "-", "b"}));
  EXPECT_EQ(parsed.invocation.input.roster, "r.csv");
  EXPECT_EQ(parsed.invocation.output.format, Format::json);
  EXPECT_EQ(parsed.invocation.output.output, "out.json");
  EXPECT_TRUE(parsed.invocation.input.strict);
}

TEST(Parse, OpensNothing) {
  EXPECT_NE(parse({"check", "no such file"}).command, nullptr);
}

TEST(Parse, AnythingAfterTwoDashesIsAFile) {
  const Parsed parsed = parse({"check", "--", "--format"});
  ASSERT_NE(parsed.command, nullptr) << parsed.text;
  EXPECT_EQ(parsed.invocation.input.logs, (std::vector<std::string>{"--format"}));
}

TEST(Parse, OffersTheNearestName) {
  EXPECT_NE(complaint({"chek"}).find("Did you mean 'check'?"), std::string::npos);
  EXPECT_NE(complaint({"check", "a.csv", "--rooster", "r.csv"}).find("no option '--rooster'. Did you mean '--roster'?"),
            std::string::npos);
  EXPECT_NE(complaint({"check", "a.csv", "--fromat=json"}).find("Did you mean '--format'?"), std::string::npos);
  EXPECT_EQ(complaint({"check", "a.csv", "--qqqqqqqq"}).find("Did you mean"), std::string::npos);
  EXPECT_EQ(complaint({"zzzzzzzz"}).find("Did you mean"), std::string::npos);
}

TEST(Parse, SaysWhatAValueMustBe) {
  EXPECT_NE(complaint({"check", "a.csv", "--format", "xml"}).find("--format is 'xml', but must be text, csv or json"),
            std::string::npos);
  EXPECT_NE(complaint({"check", "a.csv", "--width", "eighty"}).find("--width is 'eighty'"), std::string::npos);
  EXPECT_NE(complaint({"check", "a.csv", "--width", "39"}).find("from 40 to 1000"), std::string::npos);
  EXPECT_NE(complaint({"check", "a.csv", "--color", "blue"}).find("auto, always or never"), std::string::npos);
  EXPECT_NE(complaint({"check", "a.csv", "--roster"}).find("--roster needs a value: --roster FILE"), std::string::npos);
}

TEST(Parse, SaysWhereTheHelpIs) {
  EXPECT_NE(complaint({"check", "a.csv", "--qqq"}).find("bagsplit check --help"), std::string::npos);
  EXPECT_NE(complaint({"--format", "json", "check", "a.csv"}).find("the command comes first"), std::string::npos);
  EXPECT_NE(complaint({}).find("Usage: bagsplit COMMAND"), std::string::npos);
}

TEST(Parse, RefusesWhatCannotBeMeant) {
  EXPECT_NE(complaint({"check"}).find("name at least one run log"), std::string::npos);
  EXPECT_NE(complaint({"check", "-", "-"}).find("named twice"), std::string::npos);
  EXPECT_NE(complaint({"check", "a.csv", "--roster", "-"}).find("only a run log"), std::string::npos);
  EXPECT_NE(complaint({"check", ""}).find("empty"), std::string::npos);
  EXPECT_NE(complaint({"check", "a.csv", "--format", "csv", "--format", "json"}).find("--format is given 2 times"),
            std::string::npos);
}

TEST(Parse, WhatWasTypedCannotSteerTheTerminal) {
  EXPECT_EQ(complaint({"check", "--\x1B[31m"}).find('\x1B'), std::string::npos);
  EXPECT_EQ(complaint({"\x1B]0;x\x07"}).find('\x1B'), std::string::npos);
}

TEST(Parse, ProfileTakesItsNumbers) {
  const Parsed parsed =
      parse({"profile", "a.csv", "--level", "0.95", "--as-of", "2026-06-23", "--window", "30", "--threads", "2",
             "--player", "12", "--player", "7", "--device", "d.json", "b.csv", "--model", "m.json"});
  ASSERT_NE(parsed.command, nullptr) << parsed.text;
  const Invocation& got = parsed.invocation;
  EXPECT_EQ(got.profile.level, 0.95);
  EXPECT_EQ(got.profile.as_of, runs::Date(std::chrono::year(2026) / 6 / 23));
  EXPECT_EQ(got.profile.window_days, 30);
  EXPECT_EQ(got.profile.threads, 2U);
  EXPECT_EQ(got.profile.players, (std::vector<std::string>{"12", "7"}));
  EXPECT_EQ(got.input.logs, (std::vector<std::string>{"a.csv", "b.csv"}));
  EXPECT_EQ(got.input.devices, (std::vector<std::string>{"d.json"}));
  EXPECT_EQ(got.input.model, "m.json");
}

TEST(Parse, ProfileRefusesNumbersOutOfRange) {
  for (const std::vector<std::string>& wrong : {std::vector<std::string>{"--level", "90"},
                                                {"--level", "0"},
                                                {"--level", "1"},
                                                {"--level", "nan"},
                                                {"--level", "0,9,5"},
                                                {"--level", "-0.9"},
                                                {"--window", "0"},
                                                {"--window", "1.5"},
                                                {"--window", "99999999999999999999"},
                                                {"--threads", "-1"},
                                                {"--threads", "257"},
                                                {"--as-of", "23.06.2026"},
                                                {"--as-of", "2026-02-30"},
                                                {"--as-of", ""}}) {
    std::vector<std::string> arguments{"profile", "a.csv"};
    arguments.insert(arguments.end(), wrong.begin(), wrong.end());
    EXPECT_NE(complaint(arguments).find(wrong[0] + " is '"), std::string::npos) << wrong[0] << " " << wrong[1];
  }
}

// Source: international yard and pound agreement (1959): 60 ft are 18.288 m.
TEST(Parse, NormsTakesUnits) {
  const Parsed parsed =
      parse({"norms", "--distance", "60 ft", "--time", "1:04.3", "--age", "8.6", "--sex", "f", "--clock", "signal"});
  ASSERT_NE(parsed.command, nullptr) << parsed.text;
  EXPECT_DOUBLE_EQ(parsed.invocation.norms.distance_m.value_or(0), 18.288);
  EXPECT_DOUBLE_EQ(parsed.invocation.norms.time_s.value_or(0), 64.3);
  EXPECT_EQ(parsed.invocation.norms.age_years, 8.6);
  EXPECT_EQ(parsed.invocation.norms.sex, runs::Sex::female);
  EXPECT_EQ(parsed.invocation.norms.clock, norms::Clock::signal);
  EXPECT_NE(parse({"norms"}).command, nullptr);
}

// Identity: the same numbers with a decimal comma; one of thousands is not guessed.
TEST(Parse, NumbersMayHaveADecimalComma) {
  const Parsed parsed = parse({"norms", "--distance", "18,288m", "--time", "9,8", "--age", "8,6", "--sex", "girl"});
  ASSERT_NE(parsed.command, nullptr) << parsed.text;
  EXPECT_DOUBLE_EQ(parsed.invocation.norms.distance_m.value_or(0), 18.288);
  EXPECT_EQ(parsed.invocation.norms.time_s, 9.8);
  EXPECT_EQ(parsed.invocation.norms.age_years, 8.6);
  EXPECT_EQ(parsed.invocation.norms.sex, runs::Sex::female);
  EXPECT_EQ(parse({"profile", "a.csv", "--level", "0,925"}).invocation.profile.level, 0.925);
  EXPECT_NE(complaint({"norms", "--distance", "20m", "--time", "4", "--age", "8,600"}).find("--age is '8,600'"),
            std::string::npos);
}

TEST(Parse, NormsRefusesHalfAQuestion) {
  EXPECT_NE(complaint({"norms", "--distance", "20m"}).find("both --distance and --time"), std::string::npos);
  EXPECT_NE(complaint({"norms", "--age", "8"}).find("both --distance and --time"), std::string::npos);
  EXPECT_NE(complaint({"norms", "--priors", "--age", "8"}).find("stands alone"), std::string::npos);
  EXPECT_NE(complaint({"norms", "--distance", "20", "--time", "4"}).find("with its unit"), std::string::npos);
  EXPECT_NE(complaint({"norms", "--distance", "20m", "--time", "0"}).find("--time is '0'"), std::string::npos);
  EXPECT_NE(complaint({"norms", "--sex", "x"}).find("F or M"), std::string::npos);
  EXPECT_NE(complaint({"norms", "night.csv"}).find("one word too many"), std::string::npos);
}

TEST(Parse, HelpAndVersionEndWell) {
  for (const std::vector<std::string>& arguments : {std::vector<std::string>{"--help"},
                                                    {"-h"},
                                                    {"help"},
                                                    {"--version"},
                                                    {"help", "check"},
                                                    {"check", "--help"},
                                                    {"check", "-h"},
                                                    {"check", "--help", "--qqq"}}) {
    const Parsed parsed = parse(arguments);
    EXPECT_EQ(parsed.ended, ExitCode::done);
    EXPECT_EQ(parsed.command, nullptr);
    EXPECT_FALSE(parsed.text.empty());
  }
  EXPECT_EQ(parse({"help", "check"}).text, parse({"check", "--help"}).text);
  EXPECT_TRUE(parse({"--version"}).text.starts_with("bagsplit 0."));
}

}  // namespace
}  // namespace bagsplit::cli
