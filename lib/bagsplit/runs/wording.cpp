#include "bagsplit/runs/wording.hpp"

#include <algorithm>

#include "bagsplit/runs/text.hpp"

namespace bagsplit::runs {

bool all_digits(std::string_view text) { return !text.empty() && std::all_of(text.begin(), text.end(), is_digit); }

std::string in_quotes(std::string_view text) { return "'" + clipped(text) + "'"; }

std::string joined(const std::vector<std::string>& words) {
  return list_of(std::vector<std::string_view>(words.begin(), words.end()), "and");
}

}  // namespace bagsplit::runs
