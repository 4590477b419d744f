#pragma once

#include <string>
#include <string_view>
#include <vector>

namespace bagsplit::cli {

/// "7, 12" as its parts, blanks taken off; an empty part stays, for the caller to refuse.
std::vector<std::string> read_ids(std::string_view list);

/// "red=7,12"; both empty where there is no name, no id, or an empty one.
struct NamedIds {
  std::string name;
  std::vector<std::string> ids;
};
NamedIds read_named_ids(std::string_view text);

}  // namespace bagsplit::cli
