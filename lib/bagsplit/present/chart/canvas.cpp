#include "bagsplit/present/chart/canvas.hpp"

#include <algorithm>
#include <cmath>

#include "bagsplit/present/text/interval_plot.hpp"
#include "bagsplit/text/number_text.hpp"
#include "bagsplit/text/text_width.hpp"

namespace bagsplit::present::chart {

namespace {

std::string points(const std::vector<Spot>& spots) {
  std::string out;
  for (const Spot& s : spots) {
    out += (out.empty() ? "" : " ") + text::fixed(s.x, 1) + "," + text::fixed(s.y, 1);
  }
  return out;
}

std::string tick_text(double value, const std::vector<double>& marks) {
  return text::fixed(value, decimals_for(marks.size() > 1 ? marks[1] - marks[0] : value));
}

}  // namespace

double Scale::within(double value) const {
  return at(std::clamp(value, low, high));
}

Scale scale_over(const std::vector<double>& values, double from, double to) {
  if (values.empty()) {
    return {0.0, 1.0, from, to};
  }
  const auto [least, most] = std::minmax_element(values.begin(), values.end());
  const double room = *most > *least ? 0.05 * (*most - *least) : std::max(0.05 * std::abs(*most), 0.1);
  return {*least - room, *most + room, from, to};
}

text::Markup drawing(const Caption& caption, double height, const text::Markup& content) {
  const std::string title = caption.id + "-t";
  const std::string desc = caption.id + "-d";
  return text::element("svg",
                       {{"xmlns", "http://www.w3.org/2000/svg"},
                        {"viewBox", "0 0 " + text::fixed(width, 0) + " " + text::fixed(height, 0)},
                        {"role", "img"},
                        {"aria-labelledby", title + " " + desc}},
                       text::element("title", {{"id", title}}, caption.title) +
                           text::element("desc", {{"id", desc}}, caption.desc) + content);
}

text::Markup label(const Spot& at, const text::Markup& text, Anchor anchor, text::Literal style) {
  return text::element("text",
                       {{"x", at.x},
                        {"y", at.y},
                        {"text-anchor", anchor == Anchor::start    ? ""
                                        : anchor == Anchor::middle ? "middle"
                                                                   : "end"},
                        {"class", std::string(style.str())}},
                       text);
}

text::Markup line(const Spot& a, const Spot& b, text::Literal style) {
  return text::element("line",
                       {{"x1", a.x}, {"y1", a.y}, {"x2", b.x}, {"y2", b.y}, {"class", std::string(style.str())}});
}

text::Markup curve(const std::vector<Spot>& spots, text::Literal style) {
  return text::element("polyline", {{"points", points(spots)}, {"class", std::string(style.str())}});
}

text::Markup area(const std::vector<Spot>& spots, text::Literal style) {
  return text::element("polygon", {{"points", points(spots)}, {"class", std::string(style.str())}});
}

text::Markup area_between(const std::vector<Spot>& upper, const std::vector<Spot>& lower, text::Literal style) {
  std::vector<Spot> round = upper;
  round.insert(round.end(), lower.rbegin(), lower.rend());
  return area(round, style);
}

text::Markup box(const Spot& low, const Spot& high, text::Literal style) {
  return text::element("rect", {{"x", low.x},
                                {"y", low.y},
                                {"width", high.x - low.x},
                                {"height", high.y - low.y},
                                {"class", std::string(style.str())}});
}

text::Markup dot(const Spot& at, bool hollow) {
  return text::element("circle", {{"cx", at.x}, {"cy", at.y}, {"r", 4.0}, {"class", hollow ? "hollow" : "dot"}});
}

text::Markup cross(const Spot& at) {
  return line({at.x - 3.0, at.y - 3.0}, {at.x + 3.0, at.y + 3.0}, "ink") +
         line({at.x - 3.0, at.y + 3.0}, {at.x + 3.0, at.y - 3.0}, "ink");
}

text::Markup bottom_axis(const Scale& x, double top, double bottom, std::string_view unit, std::size_t most) {
  const std::vector<double> marks = axis_marks(x.low, x.high, most);
  std::string lines;
  text::Markup words;
  for (const double mark : marks) {
    const std::string at = text::fixed(x.at(mark), 1);
    lines += "M" + at + " " + text::fixed(top, 1) + "V" + text::fixed(bottom, 1);
    words += text::element("text", {{"x", x.at(mark)}, {"y", bottom + 14.0}}, tick_text(mark, marks));
  }
  return line({x.from, bottom}, {x.to, bottom}, "ink") + text::element("path", {{"class", "grid"}, {"d", lines}}) +
         text::element("g", {{"class", "small"}, {"text-anchor", "middle"}}, words) +
         label({x.to, bottom + 27.0}, unit, Anchor::end, "small");
}

text::Markup left_axis(const Scale& y, double left, double right, std::string_view unit, std::size_t most) {
  const std::vector<double> marks = axis_marks(std::min(y.low, y.high), std::max(y.low, y.high), most);
  std::string lines;
  text::Markup words;
  for (const double mark : marks) {
    lines += "M" + text::fixed(left, 1) + " " + text::fixed(y.at(mark), 1) + "H" + text::fixed(right, 1);
    words += text::element("text", {{"x", left - 5.0}, {"y", y.at(mark) + 4.0}}, tick_text(mark, marks));
  }
  return line({left, y.from}, {left, y.to}, "ink") + text::element("path", {{"class", "grid"}, {"d", lines}}) +
         text::element("g", {{"class", "small"}, {"text-anchor", "end"}}, words) +
         label({left - 5.0, std::min(y.from, y.to) - 8.0}, unit, Anchor::start, "small");
}

// About what a plain sans-serif of 12 units takes, rather more: a label that begins outside the drawing is cut off in
// print.
double text_width(std::string_view text) {
  double out = 0.0;
  std::size_t plain = 0;
  for (const char c : text) {
    if (static_cast<unsigned char>(c) < 0x80U) {
      ++plain;
      const bool wide = std::string_view("mwMW@%").find(c) != std::string_view::npos;
      const bool narrow = std::string_view("ijlftrI.,:;'!| ()-").find(c) != std::string_view::npos;
      out += wide ? 12.0 : narrow ? 5.0 : c >= 'A' && c <= 'Z' ? 9.6 : 7.6;
    }
  }
  const std::size_t cells = text::display_width(text);
  return out + 8.0 * static_cast<double>(cells > plain ? cells - plain : 0);
}

}  // namespace bagsplit::present::chart
