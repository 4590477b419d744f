#pragma once

#include <string>

#include "command_line.hpp"

namespace bagsplit::cli {

/// Help of the program: what it is for, its commands.
std::string program_help();

/// Help of one command, made from its declared options.
std::string command_help(const Command& command, const Options& options);

/// A term and what it means, the meaning beside the term from `column` on, or below it.
std::string help_entry(const std::string& term, const std::string& meaning, std::size_t column);

/// Exit codes in words, one a line, for help and documents.
std::string exit_code_help();

/// One line on where to find the help of a command.
std::string help_pointer(const Command* command);

/// Where the files are that examples and "More" name.
std::string where_files_are();

}  // namespace bagsplit::cli
