// The manual page and the shells' completions: every command and option is in them. That bash completes by them:
// tests/cli.
#include "manual.hpp"

#include <gtest/gtest.h>

#include <string>

#include "command_line.hpp"

namespace bagsplit::cli {
namespace {

bool has(const std::string& text, const std::string& part) {
  return text.find(part) != std::string::npos;
}

// Identity: the page is made from the declared options, so each is there, with hyphens that stay hyphens.
TEST(Manual, HoldsEveryCommandAndOption) {
  const std::string page = manual_page();
  for (const CommandDescription& command : described_commands()) {
    EXPECT_TRUE(has(page, ".SS " + command.name + "\n"));
    for (const Option& option : command.options) {
      if (option.long_name == "help") {
        continue;  // told once, for all commands
      }
      std::string name = option.long_name;
      for (std::size_t at = 0; (at = name.find('-', at)) != std::string::npos; at += 2) {
        name.replace(at, 1, "\\-");
      }
      EXPECT_TRUE(has(page, "\\-\\-" + name)) << command.name << " " << option.long_name;
    }
  }
}

// Common practice, no source: no line of text may begin with a control character of roff.
TEST(Manual, NoLineBeginsWithAnUnknownRequest) {
  const std::string page = manual_page();
  for (std::size_t at = 0; at < page.size();) {
    const std::size_t end = page.find('\n', at);
    const std::string line = page.substr(at, end - at);
    EXPECT_FALSE(line.starts_with("'")) << line;
    if (line.starts_with(".")) {
      const std::string request =
          line.substr(1, line.find(' ') == std::string::npos ? std::string::npos : line.find(' ') - 1);
      EXPECT_TRUE(has(" \\\" TH SH SS TP PP B I nf fi ", " " + request + " ")) << line;
    }
    at = end + 1;
  }
}

TEST(Completion, HoldsEveryCommandAndOptionInEachShell) {
  for (const char* word : {"bash", "zsh", "fish"}) {
    const std::string script = completion(read_shell(word).value());
    for (const CommandDescription& command : described_commands()) {
      EXPECT_TRUE(has(script, command.name)) << word;
      for (const Option& option : command.options) {
        EXPECT_TRUE(has(script, (word == std::string("fish") ? "-l " : "--") + option.long_name))
            << word << " " << option.long_name;
      }
    }
  }
  EXPECT_FALSE(read_shell("tcsh"));
}

}  // namespace
}  // namespace bagsplit::cli
