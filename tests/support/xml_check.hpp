#pragma once

#include <cctype>
#include <set>
#include <string>
#include <string_view>
#include <vector>

/// A strict look at markup, in place of a parser that may not be there (xmllint is asked as well where it is).
namespace bagsplit::test {

struct MarkupLook {
  std::string fault;                    ///< first one; empty for none
  std::vector<std::string> tags;        ///< opened, in order
  std::vector<std::string> values;      ///< of <data value="...">
  std::vector<std::string> references;  ///< of href and of aria-labelledby, each id of it
  std::set<std::string> ids;
  std::string text;  ///< all text between tags, still escaped
};

namespace detail {

inline bool is_entity(std::string_view rest) {
  for (const std::string_view known : {"&amp;", "&lt;", "&gt;", "&quot;", "&#39;"}) {
    if (rest.starts_with(known)) {
      return true;
    }
  }
  return false;
}

inline std::string text_fault(std::string_view text) {
  for (std::size_t i = 0; i < text.size(); ++i) {
    if (text[i] == '<' || (text[i] == '&' && !is_entity(text.substr(i)))) {
      return "'" + std::string(text.substr(i, 12)) + "' is not escaped";
    }
    if (static_cast<unsigned char>(text[i]) < 0x20 && text[i] != '\n' && text[i] != '\t') {
      return "a control character";
    }
  }
  return {};
}

// Takes the attributes of a tag apart; `inside` is what stands between its name and its end.
inline std::string take_attributes(std::string_view tag, std::string_view inside, MarkupLook& look) {
  std::set<std::string, std::less<>> seen;
  while (true) {
    while (!inside.empty() && inside.front() == ' ') {
      inside.remove_prefix(1);
    }
    if (inside.empty()) {
      return {};
    }
    const std::size_t equals = inside.find("=\"");
    const std::size_t end = equals == std::string_view::npos ? equals : inside.find('"', equals + 2);
    if (end == std::string_view::npos) {
      return "an attribute without quotes in <" + std::string(tag) + " " + std::string(inside);
    }
    const std::string name(inside.substr(0, equals));
    const std::string value(inside.substr(equals + 2, end - equals - 2));
    if (!seen.insert(name).second) {
      return "attribute " + name + " twice in <" + std::string(tag);
    }
    if (const std::string fault = text_fault(value); !fault.empty()) {
      return fault + " in attribute " + name;
    }
    if (name == "id" && !look.ids.insert(value).second) {
      return "id " + value + " twice";
    }
    if (name == "value" && tag == "data") {
      look.values.push_back(value);
    }
    if (name == "href") {
      look.references.push_back(value.starts_with('#') ? value.substr(1) : value);
    }
    if (name == "aria-labelledby") {
      const std::size_t blank = value.find(' ');
      look.references.push_back(value.substr(0, blank));
      if (blank != std::string::npos) {
        look.references.push_back(value.substr(blank + 1));
      }
    }
    inside.remove_prefix(end + 1);
  }
}

}  // namespace detail

inline MarkupLook look_at_markup(std::string_view markup) {
  MarkupLook look;
  std::vector<std::string> open;
  if (markup.starts_with("<!DOCTYPE html>\n")) {
    markup.remove_prefix(16);
  }
  while (look.fault.empty() && !markup.empty()) {
    const std::size_t at = std::min(markup.find('<'), markup.size());
    look.fault = detail::text_fault(markup.substr(0, at));
    look.text += std::string(markup.substr(0, at)) + "\n";
    markup.remove_prefix(at);
    if (markup.empty() || !look.fault.empty()) {
      break;
    }
    const std::size_t end = markup.find('>');
    if (end == std::string_view::npos) {
      look.fault = "a tag does not end";
      break;
    }
    std::string_view tag = markup.substr(1, end - 1);
    markup.remove_prefix(end + 1);
    if (tag.starts_with('/')) {
      if (open.empty() || open.back() != tag.substr(1)) {
        look.fault = "</" + std::string(tag.substr(1)) + "> closes " + (open.empty() ? "nothing" : open.back());
        break;
      }
      open.pop_back();
      continue;
    }
    const bool empty = tag.ends_with('/');
    tag.remove_suffix(empty ? 1 : 0);
    const std::string name(tag.substr(0, tag.find(' ')));
    look.tags.push_back(name);
    look.fault = detail::take_attributes(name, tag.substr(name.size()), look);
    if (!empty) {
      open.push_back(name);
    }
  }
  if (look.fault.empty() && !open.empty()) {
    look.fault = "<" + open.back() + "> is not closed";
  }
  for (const std::string& reference : look.references) {
    if (look.fault.empty() && !look.ids.contains(reference)) {
      look.fault = "no id " + reference;
    }
  }
  return look;
}

}  // namespace bagsplit::test
