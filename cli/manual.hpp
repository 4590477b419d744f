#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "session.hpp"

/// The manual page and the shells' completions, made from the declared options, so that they cannot fall behind.
namespace bagsplit::cli {

/// bagsplit(1) as a man page (roff, macro package man).
std::string manual_page();

enum class Shell : std::uint8_t { bash, zsh, fish };

std::optional<Shell> read_shell(std::string_view word);

/// A script that completes commands, options, their fixed words, and file names.
std::string completion(Shell shell);

/// Whether the values of an option are asked of option_values() as the line is typed.
bool has_listed_values(std::string_view option);

/// What the scripts ask for as a line is typed: `--values COMMAND OPTION [words of the line...]`, a value a line: ids,
/// courses, quantities of the files named so far.
std::string option_values(const std::vector<std::string>& arguments, Session session);

}  // namespace bagsplit::cli
