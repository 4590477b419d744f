#include "docs/markdown.hpp"

#include <algorithm>
#include <regex>

#include "support/text_diff.hpp"

namespace bagsplit::test {

std::vector<Block> blocks_of(std::string_view markdown) {
  constexpr std::string_view fence = "```";
  std::vector<Block> blocks;
  bool inside = false;
  std::size_t number = 0;
  for (const auto line : split_lines(markdown)) {
    ++number;
    if (!line.starts_with(fence)) {
      if (inside) {
        blocks.back().body.append(line).append("\n");
      }
      continue;
    }
    if (!inside) {
      const auto info = line.substr(fence.size());
      const auto blank = std::min(info.find(' '), info.size());
      blocks.push_back({std::string(info.substr(0, blank)), std::string(info.substr(std::min(blank + 1, info.size()))),
                        "", number + 1});
    }
    inside = !inside;
  }
  return blocks;
}

std::vector<Command> commands_of(const Block& block) {
  static const std::regex exit_comment("\\s+# exit ([0-9]+)\\s*$");
  std::vector<Command> commands;
  std::size_t number = block.line;
  bool continues = false;
  for (const auto line : split_lines(block.body)) {
    if (continues) {
      commands.back().text.append("\n").append(line);
    } else if (line == "bagsplit" || line.starts_with("bagsplit ")) {
      commands.push_back({std::string(line), 0, number});
    }
    const bool ours = continues || (!commands.empty() && commands.back().line == number);
    continues = ours && line.ends_with('\\');
    ++number;
  }
  for (auto& command : commands) {
    std::smatch match;
    if (std::regex_search(command.text, match, exit_comment)) {
      command.exit_code = std::stoi(match[1].str());
      command.text.resize(static_cast<std::size_t>(match.position(0)));
    }
  }
  return commands;
}

namespace {

using Lines = std::vector<std::string_view>;

bool match_from(const Lines& expected, std::size_t e, const Lines& got, std::size_t g) {
  for (; e < expected.size(); ++e, ++g) {
    if (expected[e] == "...") {
      for (; g <= got.size(); ++g) {
        if (match_from(expected, e + 1, got, g)) {
          return true;
        }
      }
      return false;
    }
    if (g >= got.size() || expected[e] != got[g]) {
      return false;
    }
  }
  return g == got.size();
}

}  // namespace

bool matches_with_gaps(std::string_view expected, std::string_view got) {
  return match_from(split_lines(expected), 0, split_lines(got), 0);
}

}  // namespace bagsplit::test
