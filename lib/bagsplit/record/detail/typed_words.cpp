#include "bagsplit/record/detail/typed_words.hpp"

#include <algorithm>

#include "bagsplit/runs/log/detail/flag_of_word.hpp"
#include "bagsplit/runs/log/log_summary.hpp"
#include "bagsplit/text/text.hpp"

namespace bagsplit::record::detail {

RecordReply told(std::string text) {
  return {RecordReply::Kind::told, std::move(text), {}};
}

RecordReply refused(std::string text) {
  return {RecordReply::Kind::refused, "not kept: " + std::move(text) + "\n", {}};
}

std::vector<std::string_view> words_of(std::string_view text) {
  std::vector<std::string_view> words;
  for (std::size_t at = text.find_first_not_of(" \t"); at != std::string_view::npos;
       at = text.find_first_not_of(" \t", at)) {
    const std::size_t end = std::min(text.find_first_of(" \t", at), text.size());
    words.push_back(text.substr(at, end - at));
    at = end;
  }
  return words;
}

void take_note(std::string_view& text, std::string& note) {
  if (const std::size_t semicolon = text.find(';'); semicolon != std::string_view::npos) {
    note = text::trim(text.substr(semicolon + 1));
    text = text.substr(0, semicolon);
  }
}

std::string_view flag_of(std::string_view word) {
  const auto flag = runs::flag_of_word(word);
  return flag ? runs::flag_name(*flag) : std::string_view{};
}

std::string flag_words() {
  std::vector<std::string_view> words;
  for (int k = 1; k <= static_cast<int>(runs::Flag::absent); ++k) {
    words.push_back(runs::flag_name(static_cast<runs::Flag>(k)));
  }
  return text::list_of(words);
}

}  // namespace bagsplit::record::detail
