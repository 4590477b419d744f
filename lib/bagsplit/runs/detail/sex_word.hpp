// What the roster and the command line share; not installed.
#pragma once

#include <array>
#include <optional>
#include <string_view>
#include <utility>

#include "bagsplit/runs/player.hpp"
#include "bagsplit/text/text.hpp"

namespace bagsplit::runs {

inline constexpr std::array<std::pair<std::string_view, Sex>, 6> sex_words{{{"F", Sex::female},
                                                                            {"M", Sex::male},
                                                                            {"girl", Sex::female},
                                                                            {"boy", Sex::male},
                                                                            {"female", Sex::female},
                                                                            {"male", Sex::male}}};

/// F or M, as the norms part it; the words in whatever case. Nothing for another text.
inline std::optional<Sex> parse_sex(std::string_view text) {
  for (const auto& [word, sex] : sex_words) {
    if (text::equal_ignoring_case(text, word)) {
      return sex;
    }
  }
  return std::nullopt;
}

}  // namespace bagsplit::runs
