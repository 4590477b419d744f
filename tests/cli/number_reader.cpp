#include "cli/number_reader.hpp"

#include <algorithm>
#include <array>
#include <charconv>
#include <cmath>

namespace bagsplit::test {

namespace {

bool is_digit(char c) {
  return c >= '0' && c <= '9';
}

// A letter, digit, point or the like just before or after makes it part of a word.
bool is_of_word(char c) {
  return is_digit(c) || (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || c == '.' || c == '_' || c == ':';
}

// The length of the number that begins at `at`, 0 where none does.
std::size_t length_of_number(std::string_view text, std::size_t at) {
  std::size_t end = at;
  const auto digits = [&] {
    const std::size_t from = end;
    while (end < text.size() && is_digit(text[end])) {
      ++end;
    }
    return end > from;
  };
  if (!digits()) {
    return 0;
  }
  if (end + 1 < text.size() && text[end] == '.' && is_digit(text[end + 1])) {
    ++end;
    digits();
  }
  if (end + 1 < text.size() && text[end] == 'e') {
    const std::size_t exponent = end;
    end += text[end + 1] == '-' || text[end + 1] == '+' ? 2U : 1U;
    end = digits() ? end : exponent;
  }
  const bool word = end < text.size() && is_of_word(text[end]) &&
                    !(text[end] == '.' && (end + 1 == text.size() || !is_of_word(text[end + 1])));
  return word ? 0 : end - at;
}

}  // namespace

NumberReader::Piece NumberReader::next() {
  const std::size_t from = at_;
  for (; at_ < text_.size(); ++at_) {
    if (!is_digit(text_[at_]) || (at_ > 0 && is_of_word(text_[at_ - 1]))) {
      continue;
    }
    if (const std::size_t length = length_of_number(text_, at_); length > 0) {
      Piece piece{text_.substr(from, at_ - from), 0.0, text_.substr(at_, length)};
      std::from_chars(piece.digits.data(), piece.digits.data() + length, *piece.value);
      at_ += length;
      return piece;
    }
  }
  return {text_.substr(from), std::nullopt, {}};
}

bool near(std::string_view expected, std::string_view got) {
  for (NumberReader a(expected), b(got);;) {
    const auto x = a.next();
    const auto y = b.next();
    if (x.text != y.text || x.value.has_value() != y.value.has_value()) {
      return false;
    }
    if (!x.value) {
      return true;
    }
    const bool close = std::abs(*x.value - *y.value) <= 1e-3 * std::abs(*x.value) + 1e-9;
    if (x.is_whole() && y.is_whole() ? x.digits != y.digits : !close) {
      return false;
    }
  }
}

std::string five_digits(std::string_view text) {
  std::string out;
  for (NumberReader reader(text);;) {
    const auto piece = reader.next();
    out += piece.text;
    if (!piece.value) {
      return out;
    }
    std::array<char, 32> rounded{};
    const auto end =
        std::to_chars(rounded.data(), rounded.data() + rounded.size(), *piece.value, std::chars_format::general, 5).ptr;
    const std::string_view shorter(rounded.data(), static_cast<std::size_t>(end - rounded.data()));
    out += !piece.is_whole() && shorter.size() < piece.digits.size() ? shorter : piece.digits;
  }
}

}  // namespace bagsplit::test
