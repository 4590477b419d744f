#include <algorithm>
#include <array>
#include <cmath>
#include <nlohmann/json.hpp>
#include <stdexcept>
#include <utility>

#include "bagsplit/text/json_text.hpp"
#include "bagsplit/text/number_chars.hpp"
#include "bagsplit/text/text.hpp"

namespace bagsplit::text {

namespace {

std::string_view kind_in_words(JsonKind kind) {
  static constexpr std::array<std::string_view, 6> words = {"null",   "true or false", "a number",
                                                            "a text", "an array",      "an object"};
  return words.at(static_cast<std::size_t>(kind));
}

std::string did_you_mean(std::string_view read, std::span<const std::string_view> known) {
  const auto meant = nearest(read, known);
  return meant ? "did you mean '" + std::string(*meant) + "'?" : std::string();
}

}  // namespace

JsonObject::JsonObject(JsonText& json, const JsonValue& value, std::string pointer)
    : json_(&json), value_(&value), pointer_(std::move(pointer)), is_object_(value.kind == JsonKind::object) {
  if (!is_object_) {
    json_->report(Severity::error, "wrong-type", value.place,
                  (pointer_.empty() ? std::string("the file") : "'" + pointer_ + "'") + " is " +
                      std::string(kind_in_words(value.kind)),
                  "an object: { ... }");
  }
}

std::string JsonObject::path_of(std::string_view name) const {
  return pointer_ + "/" + std::string(name);
}

void JsonObject::wrong_kind(const JsonValue& member, std::string_view expected) {
  json_->report(
      Severity::error, "wrong-type", member.place,
      "'" + path_of(member.key) + "' is " + std::string(kind_in_words(member.kind)), std::string(expected),
      member.kind == JsonKind::string && expected.starts_with("a number") ? "numbers stand without quotes" : "");
}

const JsonValue* JsonObject::member(std::string_view name, JsonNeed need) {
  known_.emplace_back(name);
  const JsonValue* found = value_->find(name);
  if (found != nullptr && found->kind == JsonKind::null) {
    found = nullptr;
  }
  if (found == nullptr && need == JsonNeed::required && is_object_) {
    json_->report(Severity::error, "missing-key", value_->key.empty() ? value_->place : value_->key_place,
                  "'" + path_of(name) + "' is missing", "'" + std::string(name) + "' in this object");
  }
  return found;
}

std::optional<double> JsonObject::number(std::string_view name, const JsonRange& range, JsonNeed need) {
  const JsonValue* found = member(name, need);
  if (found == nullptr) {
    return std::nullopt;
  }
  if (found->kind != JsonKind::number) {
    wrong_kind(*found, range.expected.starts_with("a number") ? range.expected : "a number, " + range.expected);
    return std::nullopt;
  }
  if (found->number < range.low || found->number > range.high) {
    json_->report(Severity::error, "out-of-range", found->place,
                  "'" + path_of(name) + "' is " + json_number(found->number), range.expected);
    return std::nullopt;
  }
  return found->number;
}

std::optional<std::string> JsonObject::text(std::string_view name, JsonNeed need) {
  const JsonValue* found = member(name, need);
  if (found == nullptr) {
    return std::nullopt;
  }
  if (found->kind != JsonKind::string) {
    wrong_kind(*found, "a text in double quotes");
    return std::nullopt;
  }
  return found->text;
}

std::optional<bool> JsonObject::boolean(std::string_view name, JsonNeed need) {
  const JsonValue* found = member(name, need);
  if (found == nullptr) {
    return std::nullopt;
  }
  if (found->kind != JsonKind::boolean) {
    wrong_kind(*found, "true or false");
    return std::nullopt;
  }
  return found->boolean;
}

std::optional<JsonObject> JsonObject::object(std::string_view name, JsonNeed need) {
  const JsonValue* found = member(name, need);
  if (found == nullptr) {
    return std::nullopt;
  }
  JsonObject made(*json_, *found, path_of(name));
  if (!made.is_object()) {
    return std::nullopt;
  }
  return made;
}

std::optional<std::size_t> JsonObject::word(std::string_view name, const std::vector<std::string_view>& words,
                                            JsonNeed need) {
  const JsonValue* found = member(name, need);
  if (found == nullptr) {
    return std::nullopt;
  }
  if (found->kind != JsonKind::string) {
    wrong_kind(*found, "a text in double quotes: " + list_of(words));
    return std::nullopt;
  }
  const auto it = std::find(words.begin(), words.end(), found->text);
  if (it == words.end()) {
    json_->report(Severity::error, "unknown-word", found->place, "'" + path_of(name) + "' is not a word it may be",
                  list_of(words), did_you_mean(found->text, words));
    return std::nullopt;
  }
  return static_cast<std::size_t>(it - words.begin());
}

const std::vector<JsonValue>* JsonObject::array(std::string_view name, JsonNeed need) {
  const JsonValue* found = member(name, need);
  if (found == nullptr) {
    return nullptr;
  }
  if (found->kind != JsonKind::array) {
    wrong_kind(*found, "an array: [ ... ]");
    return nullptr;
  }
  return &found->items;
}

void JsonObject::refuse_other_names() {
  for (const JsonValue& item : value_->items) {
    if (is_object_ && std::find(known_.begin(), known_.end(), item.key) == known_.end()) {
      refuse_name(item, known_);
    }
  }
}

void JsonObject::refuse_name(const JsonValue& member, const std::vector<std::string>& known) {
  const std::vector<std::string_view> words(known.begin(), known.end());
  json_->report(Severity::error, "unknown-key", member.key_place, "'" + path_of(member.key) + "' is not known",
                list_of(words), did_you_mean(member.key, words));
}

std::string json_number(double value) {
  if (!std::isfinite(value)) {
    throw std::domain_error("json_number: value is " + std::to_string(value) + ", but must be finite");
  }
  std::array<char, 32> buffer{};
  const auto [end, error] = write_shortest(buffer.data(), buffer.data() + buffer.size(), value == 0.0 ? 0.0 : value);
  return {buffer.data(), error == std::errc{} ? end : buffer.data()};
}

std::string json_string(std::string_view text) {
  return nlohmann::json(std::string(text)).dump(-1, ' ', false, nlohmann::json::error_handler_t::replace);
}

}  // namespace bagsplit::text
