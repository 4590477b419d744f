#pragma once

#include <functional>
#include <string>
#include <vector>

/// The options of a command as plain values: each declared once (declare.hpp); help, manual page and completion are
/// written from them, and command_line.cpp reads a command line by them. Only that file knows the parser.
namespace bagsplit::cli {

struct Option {
  std::string long_name;   ///< without dashes; of the files named without an option: what they are called, "LOG"
  std::string short_name;  ///< a letter, or empty
  std::string value;       ///< placeholder; empty for a switch
  std::string what;        ///< one sentence, with unit and range
  std::vector<std::string> words;  ///< what the value must be one of; empty: anything
  std::string fallback;            ///< the default, as typed or in words
  std::string purpose;             ///< the heading it stands under (declare.hpp)
  bool positional = false;
  bool repeats = false;
  bool* switched = nullptr;  ///< of a switch: what it sets
  /// Takes a value; what is wrong with it, or empty.
  std::function<std::string(const std::string&)> take = nullptr;

  bool is_switch() const { return switched != nullptr; }
  bool takes_file() const { return value == "FILE" || value == "FOLDER"; }
  /// "-o, --output", or "LOG".
  std::string names() const {
    return positional ? long_name : (short_name.empty() ? "" : "-" + short_name + ", ") + "--" + long_name;
  }
};

using Options = std::vector<Option>;

struct CommandDescription {
  std::string name, summary, examples, more;
  std::string files;  ///< what the files named without an option are; empty where it takes none
  Options options;    ///< the others
};

}  // namespace bagsplit::cli
