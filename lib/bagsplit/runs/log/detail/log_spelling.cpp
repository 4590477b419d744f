#include "bagsplit/runs/log/detail/log_spelling.hpp"

#include <algorithm>
#include <unordered_map>

#include "bagsplit/runs/typed.hpp"
#include "bagsplit/text/letters.hpp"
#include "bagsplit/text/text.hpp"

namespace bagsplit::runs::detail {

namespace {

// A whole number as a spreadsheet may write it.
struct WholeNumber {
  std::string digits;
  bool rounded = false;  // in few digits and an exponent with its sign: `1.23E+05`
};

std::size_t count_digits(std::string_view text) {
  return std::min(text.find_first_not_of("0123456789"), text.size());
}

// `12.0` or `1E+05`; nothing for a number without point and exponent, and for all other texts.
std::optional<WholeNumber> whole_number(std::string_view text) {
  WholeNumber out;
  std::size_t n = count_digits(text);
  out.digits = text.substr(0, n);
  text.remove_prefix(n);
  if (out.digits.empty() || text.empty()) {
    return std::nullopt;
  }
  std::string decimals;
  if (text.front() == '.' || text.front() == ',') {
    n = count_digits(text.substr(1));
    decimals = text.substr(1, n);
    decimals.erase(decimals.find_last_not_of('0') + 1);
    text.remove_prefix(1 + n);
    if (n == 0) {
      return std::nullopt;
    }
  }
  unsigned exponent = 0;
  if (!text.empty() && text::ascii_lower(text.front()) == 'e') {
    out.rounded = text.size() == 4 && text[1] == '+';
    text.remove_prefix(out.rounded ? 2 : 1);
    const auto typed = parse_count(text, 1, 20);
    if (!typed) {
      return std::nullopt;
    }
    exponent = *typed;
    text = {};
  }
  if (!text.empty() || decimals.size() > exponent) {
    return std::nullopt;
  }
  out.digits += decimals + std::string(exponent - decimals.size(), '0');
  return out;
}

// In a word that is a number but for it, the letter an eye takes for a nought: `O1`.
void letters_to_figures(std::string& word) {
  const auto is_like = [](char c) { return text::is_digit(c) || c == 'o'; };
  if (std::any_of(word.begin(), word.end(), text::is_digit) && std::all_of(word.begin(), word.end(), is_like)) {
    std::replace(word.begin(), word.end(), 'o', '0');
  }
}

}  // namespace

std::string bare_word(std::string_view typed) {
  std::string word = text::folded(text::without_unseen(typed));
  std::erase(word, '#');
  letters_to_figures(word);
  if (const auto number = whole_number(text::trim(word))) {
    word = number->digits;
  }
  std::string out;
  bool blank = false;
  for (std::size_t k = 0; k < word.size(); ++k) {
    const char c = word[k];
    if (c == ' ' || c == '\t') {
      blank = true;
      continue;
    }
    const bool after_digit = !out.empty() && text::is_digit(out.back());
    if (blank && after_digit && text::is_digit(c)) {
      out += ' ';
    }
    const bool begins_number = text::is_digit(c) && (!after_digit || blank) && (out.empty() || out.back() != '.');
    blank = false;
    if (begins_number) {
      // Zeros before the first other digit; a number of zeros keeps its last.
      while (k + 1 < word.size() && word[k] == '0' && text::is_digit(word[k + 1])) {
        ++k;
      }
      out += word[k];
    } else {
      out += c;
    }
  }
  return out.empty() ? std::string(typed) : out;
}

std::string unseen_difference(std::string_view a, std::string_view b) {
  if (text::has_unseen(a) || text::has_unseen(b)) {
    return "a no-break space, or one that shows nothing, stands in one of them";
  }
  // Large and small letters have as many bytes.
  return a.size() != b.size() && text::folded(a) == text::folded(b)
             ? "their accents are stored in two ways: type one of them again"
             : "";
}

std::optional<text::Problem> doubt_rounded_id(std::string_view id) {
  const auto number = whole_number(id);
  if (!number || !number->rounded) {
    return std::nullopt;
  }
  return text::Problem{.severity = text::Severity::suspicion,
                       .code = "rounded-id",
                       .message = "a spreadsheet may have written this id: it shows long numbers so",
                       .expected = "the id with all its digits",
                       .hint = "is it " + number->digits + "? others that begin alike may be hidden in it: " +
                               "format the column as text, and type the ids again"};
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
