#pragma once

#include <cstddef>
#include <cstdint>
#include <limits>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "bagsplit/text/problem.hpp"

/// JSON files written by people (models, devices, courses): every value keeps its place in the text, so that a problem
/// can point at it; a name used twice is refused rather than silently overwritten; all problems are found in one pass.
///
///     JsonText json(text, path);
///     if (const auto root = json.parse()) {
///       JsonObject file(json, *root);
///       if (const auto sd = file.number("sd", {.low = 0.0, .expected = "at least 0"})) { ... }
///       file.refuse_other_names();
///     }
///     json.deliver(problems);
namespace bagsplit::text {

/// Bytes of the text that hold a value or a name.
struct JsonPlace {
  std::size_t offset = 0;
  std::size_t length = 0;
};

enum class JsonKind : std::uint8_t { null, boolean, number, string, array, object };

/// A value with its place. Objects and arrays keep their members in `items`, in file order; a member of an object also
/// has its name in `key`.
struct JsonValue {
  JsonKind kind = JsonKind::null;
  bool boolean = false;
  double number = 0.0;  ///< finite
  std::string text;     ///< of a string, unescaped UTF-8
  std::string key;
  JsonPlace place;  ///< of a container: its opening bracket
  JsonPlace key_place;
  std::vector<JsonValue> items;

  /// The member of that name, or nullptr (also when this is not an object).
  const JsonValue* find(std::string_view name) const;
  /// The value at a JSON pointer (RFC 6901) such as "/prior/reaction_s/sd", or nullptr. `~0` and `~1` are understood.
  const JsonValue* at(std::string_view pointer) const;
};

struct JsonLimits {
  std::size_t max_bytes = 16U << 20U;  ///< such files are written by hand; more is a mistake or an attack
  std::size_t max_depth = 32;          ///< nested arrays and objects
};

/// A JSON text, its name, and what was found wrong with it so far.
class JsonText {
 public:
  /// @param text  must outlive this object.   @param path  as the user named it.
  JsonText(std::string_view text, std::string_view path) : text_(text), path_(path) {}

  /// Reads the whole text strictly (RFC 8259; a byte-order mark is passed over, comments and NaN are refused).
  ///
  /// Problem codes: `bad-json` (the first place where the text stops being JSON; nothing after it can be judged),
  /// `duplicate-key` (each one; the first value is kept), `json-too-large`, `json-too-deep`.
  /// @return the value, or nothing when the text is not JSON or breaks a limit.   Cost: O(n log n) in the bytes.
  std::optional<JsonValue> parse(const JsonLimits& limits = {});

  /// Adds a problem at a place in the text; line, column, what was read and the line itself are filled in here.
  void report(Severity severity, std::string_view code, JsonPlace place, std::string message, std::string expected,
              std::string hint = {});

  /// Moves what was found to `problems`, in file order.   @return how many of them are errors.
  std::size_t deliver(Problems& problems);

  bool has_errors() const { return errors_ > 0; }

 private:
  std::string_view text_;
  std::string path_;
  Problems found_;
  std::size_t errors_ = 0;
  std::vector<std::size_t> line_starts_;  ///< filled at the first report
};

/// Bounds of a number. Both ends belong to it.
struct JsonRange {
  double low = -std::numeric_limits<double>::infinity();
  double high = std::numeric_limits<double>::infinity();
  std::string expected = "a number";  ///< in words, for the problem
};

enum class JsonNeed : std::uint8_t { optional, required };

/// One object of the text, read name by name. A name asked for is known; refuse_other_names() reports the rest.
///
/// A missing required name is `missing-key`; a value of another kind is `wrong-type`; a number beyond its bounds is
/// `out-of-range`. `null` counts as absent.
class JsonObject {
 public:
  /// @param pointer  where the object lies, e.g. "/prior"; used in messages. Empty for the whole file.
  JsonObject(JsonText& json, const JsonValue& value, std::string pointer = {});

  /// Whether the value was an object at all (reported where not).
  bool is_object() const { return is_object_; }
  const JsonValue& value() const { return *value_; }
  const std::string& pointer() const { return pointer_; }

  const JsonValue* member(std::string_view name, JsonNeed need = JsonNeed::optional);
  std::optional<double> number(std::string_view name, const JsonRange& range = {}, JsonNeed need = JsonNeed::optional);
  std::optional<std::string> text(std::string_view name, JsonNeed need = JsonNeed::optional);
  std::optional<bool> boolean(std::string_view name, JsonNeed need = JsonNeed::optional);
  std::optional<JsonObject> object(std::string_view name, JsonNeed need = JsonNeed::optional);
  /// A text that must be one of `words`.   @return its index in `words`.
  std::optional<std::size_t> word(std::string_view name, const std::vector<std::string_view>& words,
                                  JsonNeed need = JsonNeed::optional);
  /// The items of an array, or nothing.
  const std::vector<JsonValue>* array(std::string_view name, JsonNeed need = JsonNeed::optional);

  /// Makes further names known without reading them, so that the nearest-name hint can offer them.
  void allow(std::string_view name) { known_.emplace_back(name); }
  /// Reports each member whose name was never asked for as `unknown-key`, with the nearest known name.
  void refuse_other_names();
  /// Reports one name as `unknown-key`, with the nearest of `known`.
  void refuse_name(const JsonValue& member, const std::vector<std::string>& known);

 private:
  std::string path_of(std::string_view name) const;
  void wrong_kind(const JsonValue& member, std::string_view expected);

  JsonText* json_;
  const JsonValue* value_;
  std::string pointer_;
  bool is_object_ = false;
  std::vector<std::string> known_;
};

/// A number in the shortest form that reads back the same; -0 is written 0.
/// @throws std::domain_error when it is not finite: JSON has no word for that.
std::string json_number(double value);

/// A text in quotes, escaped. Bytes that are not UTF-8 become U+FFFD.
std::string json_string(std::string_view text);

}  // namespace bagsplit::text
