#include "bagsplit/text/wording.hpp"

#include <algorithm>

#include "bagsplit/text/text.hpp"

namespace bagsplit::text {

bool all_digits(std::string_view text) {
  return !text.empty() && std::all_of(text.begin(), text.end(), is_digit);
}

std::string in_quotes(std::string_view text) {
  return "'" + clipped(text) + "'";
}

std::string counted(std::size_t count, std::string_view noun, std::string_view plural) {
  std::string text = std::to_string(count) + " ";
  if (count == 1) {
    return text.append(noun);
  }
  return plural.empty() ? text.append(noun).append("s") : text.append(plural);
}

std::string joined(const std::vector<std::string>& words) {
  return list_of(std::vector<std::string_view>(words.begin(), words.end()), "and");
}

}  // namespace bagsplit::text
