#pragma once

#include <optional>
#include <span>
#include <string>
#include <vector>

#include "exit_code.hpp"
#include "invocation.hpp"
#include "options.hpp"

namespace bagsplit::cli {

struct Session;  // session.hpp

/// One verb of the command line.
struct Command {
  const char* name;
  const char* summary;   ///< one sentence: what it is for
  const char* examples;  ///< two command lines, one a line
  const char* more;      ///< where to read more
  void (*declare)(Options& app, Invocation& invocation);
  /// What cannot be told from one option alone: a text saying what is wrong, or empty. Opens nothing.
  std::string (*examine)(const Invocation& invocation);
  ExitCode (*run)(const Invocation& invocation, Session& session);
};

/// All commands, in the order of the help.
std::span<const Command> commands();

/// What a command line asks for: a command with its options, or a text to print and how to end.
struct Parsed {
  const Command* command = nullptr;  ///< none: print `text` and end
  Invocation invocation;
  ExitCode ended = ExitCode::done;
  std::string text;  ///< to standard output when done, else to standard error
};

/// Understands a command line without side effects.  @param arguments  those after the program's name.
Parsed parse(const std::vector<std::string>& arguments);

/// The options of a command, the help's own among them. `invocation` must outlive them.
Options declared_options(const Command& command, Invocation& invocation);

/// All commands with their options, for what is written from them.
std::vector<CommandDescription> described_commands();

}  // namespace bagsplit::cli
