#include "options.hpp"

#include <algorithm>

#include "command_line.hpp"

namespace bagsplit::cli {

std::string Option::names() const {
  return positional ? long_name : (short_name.empty() ? "" : "-" + short_name + ", ") + "--" + long_name;
}

std::vector<CommandDescription> described_commands() {
  Invocation invocation;
  std::vector<CommandDescription> out;
  for (const Command& command : commands()) {
    CommandDescription described{command.name, command.summary, command.examples, command.more, {}, {}};
    for (Option& option : declared_options(command, invocation)) {
      if (option.positional) {
        described.files = option.what;
      } else {
        described.options.push_back(std::move(option));
      }
    }
    out.push_back(std::move(described));
  }
  return out;
}

}  // namespace bagsplit::cli
