#include "bagsplit/text/json_text.hpp"

#include <algorithm>
#include <array>
#include <charconv>
#include <cmath>
#include <nlohmann/json.hpp>
#include <numeric>
#include <stdexcept>
#include <utility>

#include "bagsplit/text/text.hpp"
#include "bagsplit/text/wording.hpp"

namespace bagsplit::text {

namespace {

constexpr std::size_t longest_json_line_shown = 240;  // a minified file would repeat itself in every problem
constexpr std::size_t longest_text_shown = 60;

bool is_space(char c) {
  return c == ' ' || c == '\t' || c == '\n' || c == '\r';
}
bool is_structural(char c) {
  return std::string_view(",:{}[]\"").find(c) != std::string_view::npos;
}

// Where each value, name and closing bracket lies, in file order: the parser's events come in the same order. The JSON
// library tells the place of a syntax error but not of a value. Commas and colons make no events and are left out.
std::vector<JsonPlace> places_of_tokens(std::string_view text) {
  std::vector<JsonPlace> places;
  std::size_t i = text.starts_with(byte_order_mark) ? byte_order_mark.size() : 0;
  while (i < text.size()) {
    const char c = text[i];
    if (is_space(c) || c == ',' || c == ':') {
      ++i;
      continue;
    }
    const std::size_t from = i++;
    if (c == '"') {
      while (i < text.size() && text[i] != '"') {
        i += text[i] == '\\' ? 2U : 1U;
      }
      i = std::min(i + 1, text.size());
    } else if (!is_structural(c)) {
      while (i < text.size() && !is_space(text[i]) && !is_structural(text[i])) {
        ++i;
      }
    }
    places.push_back({from, i - from});
  }
  return places;
}

// Builds the tree from the parser's events; each event takes the next place.
class TreeBuilder : public nlohmann::json_sax<nlohmann::json> {
 public:
  TreeBuilder(JsonText& json, std::string_view text, const JsonLimits& limits)
      : json_(json), text_(text), limits_(limits), places_(places_of_tokens(text)) {}

  bool null() override { return scalar({}); }
  bool boolean(bool value) override {
    JsonValue made;
    made.kind = JsonKind::boolean;
    made.boolean = value;
    return scalar(std::move(made));
  }
  bool number_integer(number_integer_t value) override { return number(static_cast<double>(value)); }
  bool number_unsigned(number_unsigned_t value) override { return number(static_cast<double>(value)); }
  bool number_float(number_float_t value, const string_t&) override { return number(value); }
  bool string(string_t& value) override {
    JsonValue made;
    made.kind = JsonKind::string;
    made.text = std::move(value);
    return scalar(std::move(made));
  }
  bool binary(binary_t&) override { return false; }
  bool key(string_t& value) override {
    key_ = std::move(value);
    key_place_ = take();
    return true;
  }
  bool start_object(std::size_t) override { return open(JsonKind::object); }
  bool start_array(std::size_t) override { return open(JsonKind::array); }
  bool end_array() override { return close(); }
  bool end_object() override {
    refuse_duplicates(open_.back());
    return close();
  }
  bool parse_error(std::size_t position, const std::string&, const nlohmann::detail::exception& error) override {
    report_syntax(position, error.what());
    return false;
  }

  std::optional<JsonValue> root;

 private:
  JsonPlace take() { return next_ < places_.size() ? places_[next_++] : JsonPlace{text_.size(), 0}; }

  bool number(double value) {
    JsonValue made;
    made.kind = JsonKind::number;
    made.number = value;
    return scalar(std::move(made));
  }

  bool scalar(JsonValue made) {
    made.place = take();
    name(made);
    return put(std::move(made));
  }

  // A member of an object takes the name just read; a container must do so before its own members come.
  void name(JsonValue& made) {
    if (!open_.empty() && open_.back().kind == JsonKind::object) {
      made.key = std::move(key_);
      made.key_place = key_place_;
    }
  }

  bool put(JsonValue made) {
    if (open_.empty()) {
      root = std::move(made);
      return true;
    }
    open_.back().items.push_back(std::move(made));
    return true;
  }

  bool open(JsonKind kind) {
    JsonValue made;
    made.kind = kind;
    made.place = take();
    if (open_.size() >= limits_.max_depth) {
      json_.report(Severity::error, "json-too-deep", made.place, "brackets are nested too deep",
                   "at most " + std::to_string(limits_.max_depth) + " brackets inside one another");
      return false;
    }
    name(made);
    open_.push_back(std::move(made));
    return true;
  }

  bool close() {
    take();
    JsonValue made = std::move(open_.back());
    open_.pop_back();
    return put(std::move(made));
  }

  void refuse_duplicates(JsonValue& object) {
    std::vector<std::size_t> order(object.items.size());
    std::iota(order.begin(), order.end(), std::size_t{0});
    std::stable_sort(order.begin(), order.end(),
                     [&](std::size_t a, std::size_t b) { return object.items[a].key < object.items[b].key; });
    std::vector<bool> again(object.items.size(), false);
    bool any = false;
    for (std::size_t i = 1; i < order.size(); ++i) {
      const JsonValue& item = object.items[order[i]];
      if (item.key == object.items[order[i - 1]].key) {
        again[order[i]] = true;
        any = true;
        json_.report(Severity::error, "duplicate-key", item.key_place, "'" + item.key + "' stands twice in one object",
                     "each name once", "which of the two is meant?");
      }
    }
    if (any) {
      std::vector<JsonValue> kept;
      for (std::size_t i = 0; i < object.items.size(); ++i) {
        if (!again[i]) {
          kept.push_back(std::move(object.items[i]));
        }
      }
      object.items = std::move(kept);
    }
  }

  void report_syntax(std::size_t position, std::string_view what) {
    // `position` counts the bytes taken so far, so the offending byte is the one before; past the end at an early end.
    const std::size_t at = position == 0 ? 0 : position - 1;
    JsonPlace place{std::min(at, text_.size()), at < text_.size() ? 1U : 0U};
    std::string hint;
    if (at >= text_.size()) {
      hint = "the text ends early: a bracket or a quote is not closed";
    }
    // A text in the wrong place is shown whole; within a text that is itself broken, the byte that breaks it.
    const bool whole_text = what.find("unexpected string literal") != std::string_view::npos;
    for (const JsonPlace& token : places_) {
      if (token.offset <= at && at < token.offset + token.length && (whole_text || text_[token.offset] != '"')) {
        place = token;
        const std::string_view read = text_.substr(token.offset, token.length);
        for (const std::string_view word : {"NaN", "nan", "Infinity", "-Infinity", "inf", "-inf"}) {
          if (read == word) {
            hint = "a value that is not known is left out; it has no number";
          }
        }
        if (read.starts_with('/') || read.starts_with('#')) {
          hint = "JSON has no comments";
        } else if (read.starts_with('\'')) {
          hint = "texts stand in double quotes";
        } else if (read.starts_with('.') || read.starts_with('+')) {
          hint = "a number begins with a digit: 0.5";
        }
      }
    }
    if (place.length > 0 && (text_[place.offset] == '}' || text_[place.offset] == ']') && hint.empty()) {
      std::size_t before = place.offset;
      while (before > 0 && is_space(text_[before - 1])) {
        --before;
      }
      if (before > 0 && text_[before - 1] == ',') {
        hint = "a comma stands before the closing bracket";
      }
    }
    std::string expected = "JSON";
    if (const auto cut = what.find("expected "); cut != std::string_view::npos) {
      expected = what.substr(cut + std::string_view("expected ").size());
      // The library also says "unexpected X"; what is wanted stands after the last "; expected ".
      if (const auto wanted = what.rfind("; expected "); wanted != std::string_view::npos) {
        expected = what.substr(wanted + std::string_view("; expected ").size());
      } else {
        expected = "a JSON value";
      }
    }
    json_.report(Severity::error, "bad-json", place, "the text is not JSON from here on", std::move(expected),
                 std::move(hint));
  }

  JsonText& json_;
  std::string_view text_;
  JsonLimits limits_;
  std::vector<JsonPlace> places_;
  std::size_t next_ = 0;
  std::vector<JsonValue> open_;
  std::string key_;
  JsonPlace key_place_;
};

}  // namespace

const JsonValue* JsonValue::find(std::string_view name) const {
  if (kind != JsonKind::object) {
    return nullptr;
  }
  const auto it = std::find_if(items.begin(), items.end(), [&](const JsonValue& item) { return item.key == name; });
  return it == items.end() ? nullptr : &*it;
}

const JsonValue* JsonValue::at(std::string_view pointer) const {
  const JsonValue* here = this;
  while (here != nullptr && !pointer.empty()) {
    if (pointer.front() != '/') {
      return nullptr;
    }
    pointer.remove_prefix(1);
    const std::string_view raw = pointer.substr(0, pointer.find('/'));
    pointer.remove_prefix(raw.size());
    std::string name;
    for (std::size_t i = 0; i < raw.size(); ++i) {
      if (raw[i] == '~' && i + 1 < raw.size() && (raw[i + 1] == '0' || raw[i + 1] == '1')) {
        name += raw[++i] == '0' ? '~' : '/';
      } else {
        name += raw[i];
      }
    }
    if (here->kind == JsonKind::array) {
      std::size_t index = 0;
      const auto [stop, error] = std::from_chars(name.data(), name.data() + name.size(), index);
      const bool whole = error == std::errc{} && stop == name.data() + name.size();
      here = whole && index < here->items.size() ? &here->items[index] : nullptr;
    } else {
      here = here->find(name);
    }
  }
  return here;
}

std::optional<JsonValue> JsonText::parse(const JsonLimits& limits) {
  if (text_.size() > limits.max_bytes) {
    report(Severity::error, "json-too-large", {}, "the file is too large: " + std::to_string(text_.size()) + " bytes",
           "at most " + std::to_string(limits.max_bytes) + " bytes");
    return std::nullopt;
  }
  TreeBuilder builder(*this, text_, limits);
  if (!nlohmann::json::sax_parse(text_.begin(), text_.end(), &builder)) {
    return std::nullopt;
  }
  return std::move(builder.root);
}

void JsonText::report(Severity severity, std::string_view code, JsonPlace place, std::string message,
                      std::string expected, std::string hint) {
  Problem problem;
  problem.severity = severity;
  problem.code = code;
  problem.path = path_;
  problem.message = std::move(message);
  problem.expected = std::move(expected);
  problem.hint = std::move(hint);
  if (severity == Severity::error) {
    ++errors_;
  }
  if (problem.code != "json-too-large") {
    if (line_starts_.empty()) {
      line_starts_.push_back(text_.starts_with(byte_order_mark) ? byte_order_mark.size() : 0);
      for (std::size_t i = 0; i < text_.size(); ++i) {
        if (text_[i] == '\n') {
          line_starts_.push_back(i + 1);
        }
      }
    }
    const std::size_t offset = std::min(std::max(place.offset, line_starts_.front()), text_.size());
    const auto next = std::upper_bound(line_starts_.begin(), line_starts_.end(), offset);
    const std::size_t from = *std::prev(next);
    std::string_view line = text_.substr(from, next == line_starts_.end() ? std::string_view::npos : *next - 1 - from);
    if (line.ends_with('\r')) {
      line.remove_suffix(1);
    }
    const std::string_view read = text_.substr(offset, place.length);
    problem.line = static_cast<std::size_t>(next - line_starts_.begin());
    problem.column = count_characters(text_.substr(from, offset - from)) + 1;
    problem.length = count_characters(read.substr(0, read.find('\n')));
    problem.read = clipped(read, longest_text_shown);
    if (line.size() <= longest_json_line_shown) {
      problem.source_line = line;
    }
  }
  found_.push_back(std::move(problem));
}

std::size_t JsonText::deliver(Problems& problems) {
  std::stable_sort(found_.begin(), found_.end(), [](const Problem& a, const Problem& b) {
    return std::pair(a.line, a.column) < std::pair(b.line, b.column);
  });
  std::move(found_.begin(), found_.end(), std::back_inserter(problems));
  found_.clear();
  return std::exchange(errors_, 0);
}

}  // namespace bagsplit::text
