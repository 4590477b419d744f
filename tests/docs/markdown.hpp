#pragma once

#include <cstddef>
#include <string>
#include <string_view>
#include <vector>

/// Fenced blocks of a Markdown document and the commands in them.
namespace bagsplit::test {

/// One fenced block. ```` ```text stderr ```` has language "text" and rest "stderr".
struct Block {
  std::string language;
  std::string rest;
  std::string body;
  std::size_t line;  ///< of the first line of the body, from 1
};

std::vector<Block> blocks_of(std::string_view markdown);

/// A command to run, as typed, and the exit code it should have: 0, or N of a comment `# exit N` at its end.
struct Command {
  std::string text;
  int exit_code = 0;
  std::size_t line = 0;
};

/// The lines of a block that begin with `bagsplit ` (or are just that); a backslash at a line's end continues it.
std::vector<Command> commands_of(const Block& block);

/// Whether `got` is `expected`, where a line of `expected` that is just `...` stands for any lines, also none.
bool matches_with_gaps(std::string_view expected, std::string_view got);

}  // namespace bagsplit::test
