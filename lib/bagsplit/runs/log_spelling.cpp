#include "bagsplit/runs/log_spelling.hpp"

#include <algorithm>
#include <unordered_map>

#include "bagsplit/runs/text.hpp"

namespace bagsplit::runs::detail {

std::string bare_word(std::string_view word) {
  std::string out;
  bool blank = false;
  for (std::size_t k = 0; k < word.size(); ++k) {
    const char c = ascii_lower(word[k]);
    if (c == ' ' || c == '\t') {
      blank = true;
      continue;
    }
    const bool after_digit = !out.empty() && is_digit(out.back());
    if (blank && after_digit && is_digit(c)) {
      out += ' ';
    }
    const bool begins_number = is_digit(c) && (!after_digit || blank) && (out.empty() || out.back() != '.');
    blank = false;
    if (begins_number) {
      // Zeros before the first other digit; a number of zeros keeps its last.
      while (k + 1 < word.size() && word[k] == '0' && is_digit(word[k + 1])) {
        ++k;
      }
      out += word[k];
    } else {
      out += c;
    }
  }
  return out;
}

std::vector<TwoSpellings> two_spellings(const NameTable& names, const std::vector<WordUse>& uses) {
  std::vector<NameId> used;
  for (NameId id = 0; id < uses.size(); ++id) {
    if (uses[id].count > 0) {
      used.push_back(id);
    }
  }
  std::sort(used.begin(), used.end(), [&](NameId a, NameId b) { return uses[a].row < uses[b].row; });
  std::unordered_map<std::string, NameId> first_of;
  std::vector<TwoSpellings> out;
  for (const NameId id : used) {
    const auto [at, is_new] = first_of.try_emplace(bare_word(names.text(id)), id);
    if (!is_new) {
      out.push_back({at->second, id, uses[at->second].count, uses[id].count, uses[id].row});
    }
  }
  return out;
}

}  // namespace bagsplit::runs::detail
