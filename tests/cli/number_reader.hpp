#pragma once

#include <optional>
#include <string>
#include <string_view>

/// Numbers within text, for comparing answers that are the same but for rounding.
namespace bagsplit::test {

/// Walks over a text from one broken number (with a decimal point or an exponent) to the next. Whole numbers, dates,
/// times of day and versions such as 1.2.3 belong to the text around.
class NumberReader {
 public:
  struct Piece {
    std::string_view text;        ///< before the number
    std::optional<double> value;  ///< nothing at the end of the text
    std::string_view digits;      ///< the number as it stands
  };

  explicit NumberReader(std::string_view text) : text_(text) {}
  Piece next();

 private:
  std::string_view text_;
  std::size_t at_ = 0;
};

/// The text with each such number of more than five significant digits rounded to five.
std::string five_digits(std::string_view text);

}  // namespace bagsplit::test
