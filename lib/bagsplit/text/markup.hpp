#pragma once

#include <initializer_list>
#include <string>
#include <string_view>

/// HTML and SVG that cannot come out broken: a piece of markup is made only of elements, attributes and texts, and
/// every text is escaped on the way in. What is written reads the same for an HTML and for an XML parser.
namespace bagsplit::text {

/// The name of an element or attribute: a literal of the program, so that no text of a file can become one.
class Literal {
 public:
  consteval Literal(const char* text) : text_(text) {}
  constexpr std::string_view str() const { return text_; }

 private:
  std::string_view text_;
};

struct Attribute {
  Attribute(Literal attribute, std::string text) : name(attribute), value(std::move(text)) {}
  /// A number of a drawing: one digit behind the point, none where it is 0.
  Attribute(Literal attribute, double number);
  Literal name;
  std::string value;  ///< any text; escaped when written
};

class Markup {
 public:
  Markup() = default;
  // Any text, shown as it is: & < > " ' escaped, control and direction characters and bytes that are not UTF-8 made
  // visible.
  Markup(std::string_view text);
  Markup(const std::string& text) : Markup(std::string_view(text)) {}
  Markup(const char* text) : Markup(std::string_view(text)) {}

  Markup& operator+=(const Markup& other) {
    out_ += other.out_;
    return *this;
  }
  friend Markup operator+(Markup a, const Markup& b) {
    a += b;
    return a;
  }
  bool empty() const { return out_.empty(); }
  const std::string& str() const { return out_; }

 private:
  friend Markup element(Literal tag, std::initializer_list<Attribute> attributes, const Markup& content);
  friend Markup style_sheet(Literal css);
  std::string out_;
};

/// An element with what it holds. An attribute with an empty value is left out, but for `alt`.
Markup element(Literal tag, std::initializer_list<Attribute> attributes, const Markup& content = {});
inline Markup element(Literal tag, const Markup& content) {
  return element(tag, {}, content);
}

/// A stranger's text (id, name, place) within a sentence: its direction of writing stays its own.
Markup isolated(std::string_view text);

/// A style element. The text has neither & nor <: it means the same to both kinds of parser.
Markup style_sheet(Literal css);

/// The text escaped for content and for attribute values in quotes.
std::string escaped(std::string_view text);

}  // namespace bagsplit::text
