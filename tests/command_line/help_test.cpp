#include <gtest/gtest.h>

#include <algorithm>
#include <set>
#include <sstream>

#include "bagsplit/runs/log/file_columns.hpp"
#include "bagsplit/text/text_width.hpp"
#include "command_line.hpp"
#include "declare.hpp"

namespace bagsplit::cli {
namespace {

// Common practice, no source: what a help must hold.

// The words of a text, each parted by one blank: wrapping does not matter.
std::string unwrapped(const std::string& text) {
  std::istringstream stream(text);
  std::string out;
  for (std::string word; stream >> word;) {
    out += (out.empty() ? "" : " ") + word;
  }
  return out;
}

class Help : public testing::TestWithParam<std::string> {
 protected:
  Help() {
    for (const Command& command : commands()) {
      if (command.name == GetParam()) {
        options_ = declared_options(command, invocation_);
      }
    }
  }

  Invocation invocation_;
  Options options_;
};

TEST_P(Help, EveryOptionSaysWhatItIs) {
  for (const Option& option : options_) {
    const std::string name = option.names();
    EXPECT_GE(option.what.size(), 8U) << name;
    EXPECT_FALSE(option.what.ends_with('.')) << name;
    const std::set<std::string> purposes{purpose::input, purpose::choice, purpose::output, purpose::other};
    EXPECT_TRUE(purposes.contains(option.purpose)) << name << " stands under '" << option.purpose << "'";
    if (!option.is_switch() && !option.positional) {
      EXPECT_FALSE(option.value.empty()) << name << " has no placeholder for its value";
      EXPECT_FALSE(option.fallback.empty()) << name << " does not say what holds without it";
    }
  }
}

TEST_P(Help, EveryOptionIsInTheHelp) {
  const std::string help = unwrapped(parse({GetParam(), "--help"}).text);
  for (const Option& option : options_) {
    EXPECT_NE(help.find(unwrapped(option.what)), std::string::npos) << option.names();
    if (!option.positional) {
      EXPECT_NE(help.find("--" + option.long_name), std::string::npos);
    }
  }
}

TEST_P(Help, FitsThePageAndHasAllItsParts) {
  const std::string help = parse({GetParam(), "--help"}).text;
  std::istringstream lines(help);
  for (std::string line; std::getline(lines, line);) {
    EXPECT_LE(text::display_width(line), 80U) << line;
    EXPECT_FALSE(line.ends_with(' ')) << line;
  }
  for (const char* part : {"Usage: bagsplit ", "\nExamples\n", "\nExit status\n", "\nMore: "}) {
    EXPECT_NE(help.find(part), std::string::npos) << part;
  }
}

TEST_P(Help, ItsExamplesAreRightCommandLines) {
  for (const Command& command : commands()) {
    if (command.name != GetParam()) {
      continue;
    }
    std::istringstream lines(command.examples);
    std::size_t examples = 0;
    for (std::string line; std::getline(lines, line); ++examples) {
      std::istringstream words(line);
      std::vector<std::string> arguments;
      for (std::string word; words >> word;) {
        arguments.push_back(word);
      }
      ASSERT_EQ(arguments.front(), "bagsplit");
      arguments.erase(arguments.begin());
      const Parsed parsed = parse(arguments);
      ASSERT_NE(parsed.command, nullptr) << line << "\n" << parsed.text;
      EXPECT_STREQ(parsed.command->name, command.name);
    }
    EXPECT_GE(examples, 2U);
  }
}

// Identity: a default that is a value, typed, gives what giving nothing gives.
TEST_P(Help, TheDefaultsStatedAreTheDefaults) {
  const bool has_positional =
      std::any_of(options_.begin(), options_.end(), [](const Option& option) { return option.positional; });
  Invocation untouched;
  for (const Option& option : options_) {
    const std::string value = option.fallback;
    if (option.positional || option.is_switch() || value.find(' ') != std::string::npos) {
      continue;
    }
    std::vector<std::string> arguments{GetParam(), "--" + option.long_name, value};
    if (has_positional) {
      arguments.emplace_back("a.csv");
    }
    if (GetParam() == "gates") {  // its two files must be given
      arguments.insert(arguments.end(), {"--starts", "starts.csv", "--map", "map.csv"});
    }
    if (GetParam() == "plan") {  // something must be planned
      arguments.insert(arguments.end(), {"--minutes", "30"});
    }
    const Parsed parsed = parse(arguments);
    ASSERT_NE(parsed.command, nullptr) << parsed.text;
    const Invocation& got = parsed.invocation;
    EXPECT_EQ(got.output.format, untouched.output.format);
    EXPECT_EQ(got.output.output, untouched.output.output);
    EXPECT_EQ(got.output.colour, untouched.output.colour);
    EXPECT_EQ(got.profile.level, untouched.profile.level);
    EXPECT_EQ(got.profile.threads, untouched.profile.threads);
    EXPECT_EQ(got.norms.clock, untouched.norms.clock);
    EXPECT_EQ(got.standings.method, untouched.standings.method);
    EXPECT_EQ(got.standings.certainty, untouched.standings.certainty);
    EXPECT_EQ(got.standings.most_each, untouched.standings.most_each);
    EXPECT_EQ(got.standings.draws, untouched.standings.draws);
    EXPECT_EQ(got.standings.seed, untouched.standings.seed);
  }
}

std::vector<std::string> command_names() {
  std::vector<std::string> names;
  for (const Command& command : commands()) {
    names.emplace_back(command.name);
  }
  return names;
}

INSTANTIATE_TEST_SUITE_P(EveryCommand, Help, testing::ValuesIn(command_names()),
                         [](const auto& command) { return command.param; });

TEST(ProgramHelp, NamesEveryCommandAndExitCode) {
  const std::string help = parse({"--help"}).text;
  for (const std::string& name : command_names()) {
    EXPECT_NE(help.find("\n  " + name + " "), std::string::npos);
  }
  for (const char* code : {"\n  0 ", "\n  1 ", "\n  2 ", "\n  3 ", "\n  4 ", "\n  70 "}) {
    EXPECT_NE(help.find(code), std::string::npos);
  }
}

// Identity: each column the readers find by name is told, and the page fits.
TEST(FileHelp, TellsEveryColumnOfItsReader) {
  const std::vector<std::pair<std::string, std::span<const runs::ColumnWords>>> files{
      {"log", runs::log_columns()}, {"roster", runs::roster_columns()}};
  for (const auto& [file, columns] : files) {
    const Parsed parsed = parse({"help", file});
    EXPECT_EQ(parsed.ended, ExitCode::done);
    EXPECT_GE(columns.size(), 10U);
    for (const runs::ColumnWords& column : columns) {
      EXPECT_NE(parsed.text.find("\n  " + std::string(column.name) + (column.required ? "* " : " ")), std::string::npos)
          << column.name;
    }
    std::istringstream lines(parsed.text);
    for (std::string line; std::getline(lines, line);) {
      EXPECT_LE(text::display_width(line), 80U) << line;
    }
  }
}

}  // namespace
}  // namespace bagsplit::cli
