#pragma once

#include <optional>
#include <string>
#include <string_view>

namespace bagsplit::cli {

/// What may stand in a file people type, made from the tables its reader uses: of "log" or "roster"; nothing for
/// another word.
std::optional<std::string> file_help(std::string_view file);

}  // namespace bagsplit::cli
