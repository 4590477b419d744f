#pragma once

#include <string>
#include <vector>

#include "bagsplit/text/markup.hpp"

/// What all charts are drawn with: an SVG of 360 units across, to be shown about as wide as a phone, with a title and a
/// description for those who hear it. Strokes and fills are classes that the page's style sheet colours; nothing is
/// told by colour alone.
namespace bagsplit::present::chart {

inline constexpr double width = 360.0;
inline constexpr double text_height = 12.0;

/// What the chart is, in words.
struct Caption {
  std::string id;     ///< unique in the page; begins with a letter
  std::string title;  ///< short
  std::string desc;   ///< what a sighted reader sees
};

struct Spot {
  double x = 0.0, y = 0.0;
};

/// Values to places on the page.
struct Scale {
  double low = 0.0, high = 1.0;   ///< values
  double from = 0.0, to = width;  ///< places
  double at(double value) const { return from + (to - from) * (value - low) / (high - low); }
  /// The same, kept within the chart.
  double within(double value) const;
};

/// A scale that holds all the values with a little room at both ends; a wide enough one where they are all the same.
Scale scale_over(const std::vector<double>& values, double from, double to);

text::Markup drawing(const Caption& caption, double height, const text::Markup& content);

enum class Anchor { start, middle, end };
text::Markup label(const Spot& at, const text::Markup& text, Anchor anchor = Anchor::start, text::Literal style = "");
text::Markup line(const Spot& a, const Spot& b, text::Literal style);
text::Markup curve(const std::vector<Spot>& spots, text::Literal style);
text::Markup area(const std::vector<Spot>& spots, text::Literal style);
/// The area between two curves given from left to right.
text::Markup area_between(const std::vector<Spot>& upper, const std::vector<Spot>& lower, text::Literal style);
text::Markup box(const Spot& low, const Spot& high, text::Literal style);
/// An estimate: a filled dot; hollow where the value is mostly not the player's own.
text::Markup dot(const Spot& at, bool hollow = false);
/// A measured value: a small cross.
text::Markup cross(const Spot& at);

/// Numbers below the chart, with faint lines up to `top`.
text::Markup bottom_axis(const Scale& x, double top, double bottom, std::string_view unit, std::size_t most = 6);
/// Numbers left of the chart, with faint lines to `right`; the unit stands above.
text::Markup left_axis(const Scale& y, double left, double right, std::string_view unit, std::size_t most = 6);

/// About how wide a text is.
double text_width(std::string_view text);

}  // namespace bagsplit::present::chart
