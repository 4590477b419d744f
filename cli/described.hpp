#pragma once

#include <string>
#include <vector>

/// The declared options as plain values, for what is written from them.
namespace bagsplit::cli {

struct OptionDescription {
  std::string long_name;           ///< without dashes
  std::string short_name;          ///< a letter, or empty
  std::string value;               ///< placeholder; empty for a switch
  std::vector<std::string> words;  ///< what the value must be one of; empty: anything
  std::string what, fallback, purpose;
  bool repeats = false;

  bool takes_file() const { return value == "FILE" || value == "FOLDER"; }
};

struct CommandDescription {
  std::string name, summary, examples, more;
  std::string files;  ///< what its positional arguments are; empty where it takes none
  std::vector<OptionDescription> options;
};

std::vector<CommandDescription> described_commands();

}  // namespace bagsplit::cli
