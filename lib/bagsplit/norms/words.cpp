#include "bagsplit/norms/words.hpp"

#include "bagsplit/text/number_chars.hpp"

namespace bagsplit::norms {

std::string shown(double value, int decimals) {
  std::string out = text::plain_fixed(value, decimals);
  if (out.find('.') != std::string::npos) {
    out.erase(out.find_last_not_of('0') + 1);
    if (out.back() == '.') {
      out.pop_back();
    }
  }
  return out == "-0" ? "0" : out;
}

}  // namespace bagsplit::norms
