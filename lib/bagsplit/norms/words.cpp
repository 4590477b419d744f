#include "bagsplit/norms/words.hpp"

#include <array>
#include <charconv>
#include <system_error>

namespace bagsplit::norms {

std::string shown(double value, int decimals) {
  std::array<char, 400> text{};  // the largest double has 309 digits before the point
  const auto [end, error] =
      std::to_chars(text.data(), text.data() + text.size(), value, std::chars_format::fixed, decimals);
  std::string out(text.data(), error == std::errc{} ? end : text.data());
  if (out.find('.') != std::string::npos) {
    out.erase(out.find_last_not_of('0') + 1);
    if (out.back() == '.') {
      out.pop_back();
    }
  }
  return out == "-0" ? "0" : out;
}

}  // namespace bagsplit::norms
