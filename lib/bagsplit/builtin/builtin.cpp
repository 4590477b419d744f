#include "bagsplit/builtin/builtin.hpp"

#include <algorithm>

namespace bagsplit::builtin {

namespace detail {
extern const File embedded_files[];
extern const unsigned long embedded_count;
}  // namespace detail

std::span<const File> files() {
  return {detail::embedded_files, detail::embedded_count};
}

std::optional<std::string_view> text(std::string_view name) {
  const auto all = files();
  const auto it = std::find_if(all.begin(), all.end(), [&](const File& f) { return f.name == name; });
  if (it == all.end()) {
    return std::nullopt;
  }
  return it->text;
}

}  // namespace bagsplit::builtin
