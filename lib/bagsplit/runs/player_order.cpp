#include "bagsplit/runs/player_order.hpp"

#include <charconv>

namespace bagsplit::runs {

bool id_before(std::string_view a, std::string_view b) {
  const auto number = [](std::string_view id, unsigned long long& value) {
    const auto [end, error] = std::from_chars(id.data(), id.data() + id.size(), value);
    return error == std::errc{} && end == id.data() + id.size();
  };
  unsigned long long x = 0;
  unsigned long long y = 0;
  const bool a_number = number(a, x);
  const bool b_number = number(b, y);
  if (a_number != b_number) {
    return a_number;
  }
  return a_number && x != y ? x < y : a < b;
}

}  // namespace bagsplit::runs
