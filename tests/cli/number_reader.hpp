#pragma once

#include <optional>
#include <string>
#include <string_view>

/// Numbers within text, for comparing answers that are the same but for rounding.
namespace bagsplit::test {

/// Walks over a text from one number to the next. Digits in words, times of day and versions such as 1.2.3 belong to
/// the text around.
class NumberReader {
 public:
  struct Piece {
    std::string_view text;        ///< before the number
    std::optional<double> value;  ///< nothing at the end of the text
    std::string_view digits;      ///< the number as it stands

    bool is_whole() const { return digits.find_first_of(".e") == std::string_view::npos; }
  };

  explicit NumberReader(std::string_view text) : text_(text) {}
  Piece next();

 private:
  std::string_view text_;
  std::size_t at_ = 0;
};

/// The same but for numbers that differ by at most a part in a thousand where one of the two is no whole number.
bool near(std::string_view expected, std::string_view got);

/// The text with each number of more than five significant digits rounded to five; whole numbers stay.
std::string five_digits(std::string_view text);

}  // namespace bagsplit::test
