#include "bagsplit/text/json_writer.hpp"

#include <algorithm>
#include <stdexcept>

#include "bagsplit/text/number_text.hpp"
#include "bagsplit/text/text.hpp"

namespace bagsplit::text {

namespace {

// Appends a text in quotes. Source: RFC 8259, section 7; DEL and the line ends U+2028, U+2029 may stand as they are.
void append_quoted(std::string& out, std::string_view text) {
  constexpr std::string_view hex = "0123456789abcdef";
  out += '"';
  std::size_t valid_to = std::min(text::first_invalid_utf8(text), text.size());
  std::size_t from = 0;  // what stands as it is, is copied in one piece
  for (std::size_t i = 0; i < text.size(); ++i) {
    const char c = text[i];
    if (i != valid_to && c != '"' && c != '\\' && static_cast<unsigned char>(c) >= 0x20) {
      continue;
    }
    out += text.substr(from, i - from);
    from = i + 1;
    if (i == valid_to) {
      out += "\xEF\xBF\xBD";
      valid_to = i + 1 + std::min(text::first_invalid_utf8(text.substr(i + 1)), text.size() - i - 1);
      continue;
    }
    switch (c) {
      case '"':
        out += "\\\"";
        break;
      case '\\':
        out += "\\\\";
        break;
      case '\n':
        out += "\\n";
        break;
      case '\r':
        out += "\\r";
        break;
      case '\t':
        out += "\\t";
        break;
      default:
        out += "\\u00";
        out += hex[static_cast<unsigned char>(c) >> 4U];
        out += hex[static_cast<unsigned char>(c) & 0xFU];
    }
  }
  out += text.substr(from);
  out += '"';
}

}  // namespace

void JsonWriter::line_break() {
  out_.append(1, '\n').append(2 * levels_.size(), ' ');
}

void JsonWriter::next_item() {
  Level& level = levels_.back();
  if (level.has_items) {
    out_ += ',';
  }
  if (!level.one_line) {
    line_break();
  } else if (level.has_items) {
    out_ += ' ';
  }
  level.has_items = true;
}

void JsonWriter::before_value() {
  if (levels_.empty()) {
    if (begun_) {
      throw std::logic_error("JsonWriter: a second value after the whole text");
    }
    begun_ = true;
    return;
  }
  if (levels_.back().is_object) {
    if (!after_key_) {
      throw std::logic_error("JsonWriter: a value in an object without its name");
    }
    after_key_ = false;
    return;
  }
  next_item();
}

void JsonWriter::open(bool is_object, Layout layout) {
  before_value();
  const bool one_line = layout == Layout::line || (!levels_.empty() && levels_.back().one_line);
  levels_.push_back({is_object, one_line, false, names_.size()});
  out_ += is_object ? '{' : '[';
}

void JsonWriter::close(bool is_object) {
  if (levels_.empty() || levels_.back().is_object != is_object || after_key_) {
    throw std::logic_error("JsonWriter: closed what is not open");
  }
  const bool breaks = levels_.back().has_items && !levels_.back().one_line;
  names_.resize(levels_.back().first_name);
  levels_.pop_back();
  if (breaks) {
    line_break();
  }
  out_ += is_object ? '}' : ']';
}

JsonWriter& JsonWriter::begin_object(Layout layout) {
  open(true, layout);
  return *this;
}

JsonWriter& JsonWriter::end_object() {
  close(true);
  return *this;
}

JsonWriter& JsonWriter::begin_array(Layout layout) {
  open(false, layout);
  return *this;
}

JsonWriter& JsonWriter::end_array() {
  close(false);
  return *this;
}

JsonWriter& JsonWriter::key(std::string_view name) {
  if (levels_.empty() || !levels_.back().is_object || after_key_) {
    throw std::logic_error("JsonWriter: a name where none belongs: " + std::string(name));
  }
  next_item();
  const std::size_t at = out_.size();
  append_quoted(out_, name);
  const auto quoted = [this](const Name& known) { return std::string_view(out_).substr(known.at, known.length); };
  const Name added{at, out_.size() - at};
  for (std::size_t i = levels_.back().first_name; i < names_.size(); ++i) {
    if (quoted(names_[i]) == quoted(added)) {
      throw std::logic_error("JsonWriter: a name used twice in one object: " + std::string(name));
    }
  }
  names_.push_back(added);
  out_ += ": ";
  after_key_ = true;
  return *this;
}

JsonWriter& JsonWriter::text(std::string_view value) {
  before_value();
  append_quoted(out_, value);
  return *this;
}

JsonWriter& JsonWriter::number(double value) {
  before_value();
  append_shortest(out_, value);
  return *this;
}

JsonWriter& JsonWriter::number(std::optional<double> value) {
  return value ? number(*value) : null();
}

JsonWriter& JsonWriter::count(std::uint64_t value) {
  before_value();
  out_ += std::to_string(value);
  return *this;
}

JsonWriter& JsonWriter::boolean(bool value) {
  before_value();
  out_ += value ? "true" : "false";
  return *this;
}

JsonWriter& JsonWriter::null() {
  before_value();
  out_ += "null";
  return *this;
}

JsonWriter& JsonWriter::raw(std::string_view json) {
  before_value();
  out_ += json;
  return *this;
}

std::string JsonWriter::take() {
  if (!levels_.empty() || !begun_) {
    throw std::logic_error("JsonWriter: taken before its end");
  }
  out_ += '\n';
  begun_ = false;
  return std::move(out_);
}

}  // namespace bagsplit::text
