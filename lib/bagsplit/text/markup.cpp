#include "bagsplit/text/markup.hpp"

#include <algorithm>
#include <array>

#include "bagsplit/text/display.hpp"
#include "bagsplit/text/number_text.hpp"

namespace bagsplit::text {

namespace {

// Elements without an end tag in HTML, and shapes, for which SVG needs none.
constexpr std::array empty_tags = std::to_array<std::string_view>(
    {"br", "hr", "meta", "col", "circle", "line", "path", "polygon", "polyline", "rect"});

std::string drawn(double number) {
  std::string text = fixed(number, 1);
  if (text.ends_with(".0")) {
    text.resize(text.size() - 2);
  }
  return text;
}

}  // namespace

std::string escaped(std::string_view text) {
  std::string out;
  for (const char c : one_line(text)) {
    switch (c) {
      case '&':
        out += "&amp;";
        break;
      case '<':
        out += "&lt;";
        break;
      case '>':
        out += "&gt;";
        break;
      case '"':
        out += "&quot;";
        break;
      case '\'':
        out += "&#39;";
        break;
      default:
        out += c;
    }
  }
  // U+FFFE and U+FFFF are no characters to XML.
  for (const std::string_view never : {"\xEF\xBF\xBE", "\xEF\xBF\xBF"}) {
    for (std::size_t at = out.find(never); at != std::string::npos; at = out.find(never, at)) {
      out.replace(at, never.size(), "\xEF\xBF\xBD");
    }
  }
  return out;
}

Attribute::Attribute(Literal attribute, double number) : name(attribute), value(drawn(number)) {}

Markup::Markup(std::string_view text) : out_(escaped(text)) {}

Markup element(Literal tag, std::initializer_list<Attribute> attributes, const Markup& content) {
  Markup made;
  std::string& out = made.out_;
  out.reserve(content.out_.size() + 64);
  out.append("<").append(tag.str());
  for (const Attribute& attribute : attributes) {
    if (!attribute.value.empty() || attribute.name.str() == "alt") {
      out.append(" ").append(attribute.name.str()).append("=\"").append(escaped(attribute.value)).append("\"");
    }
  }
  if (content.out_.empty() && std::find(empty_tags.begin(), empty_tags.end(), tag.str()) != empty_tags.end()) {
    out += "/>";
    return made;
  }
  out.append(">").append(content.out_).append("</").append(tag.str()).append(">");
  return made;
}

Markup isolated(std::string_view text) {
  return element("bdi", Markup(text));
}

Markup style_sheet(Literal css) {
  Markup made;
  made.out_.append("<style>").append(css.str()).append("</style>");
  return made;
}

}  // namespace bagsplit::text
