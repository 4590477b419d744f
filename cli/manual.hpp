#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>

/// The manual page and the shells' completions, made from the declared options, so that they cannot fall behind.
namespace bagsplit::cli {

/// bagsplit(1) as a man page (roff, macro package man).
std::string manual_page();

enum class Shell : std::uint8_t { bash, zsh, fish };

std::optional<Shell> read_shell(std::string_view word);

/// A script that completes commands, options, their fixed words, and file names.
std::string completion(Shell shell);

}  // namespace bagsplit::cli
