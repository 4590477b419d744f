#include "id_list.hpp"

#include <algorithm>

#include "bagsplit/text/text.hpp"

namespace bagsplit::cli {

std::vector<std::string> read_ids(std::string_view list) {
  std::vector<std::string> out;
  while (!list.empty()) {
    const std::size_t comma = std::min(list.find(','), list.size());
    out.emplace_back(text::trim(list.substr(0, comma)));
    list.remove_prefix(std::min(comma + 1, list.size()));
  }
  return out;
}

NamedIds read_named_ids(std::string_view text) {
  const std::size_t equals = text.find('=');
  if (equals == std::string_view::npos) {
    return {};
  }
  NamedIds out{std::string(text::trim(text.substr(0, equals))), read_ids(text.substr(equals + 1))};
  if (out.name.empty() || std::find(out.ids.begin(), out.ids.end(), "") != out.ids.end()) {
    return {};
  }
  return out;
}

}  // namespace bagsplit::cli
