#pragma once

#include <optional>
#include <string_view>

#include "bagsplit/runs/run.hpp"

namespace bagsplit::runs {

/// The flag of a word: as the log has it, as it is circled on a sheet (FS, F, M, O, V, A), or as a coach says it
/// (fell, false start, did not run); nothing for another word.
std::optional<Flag> flag_of_word(std::string_view text);

}  // namespace bagsplit::runs
