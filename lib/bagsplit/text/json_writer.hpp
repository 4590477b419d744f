#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace bagsplit::text {

/// Writes JSON (RFC 8259) straight into a text, members in the order they are written, numbers with every digit.
///
/// Written rather than taken from a library because of three habits machine output must not have: a NaN that silently
/// becomes null, a name used twice, an exception in the middle of the answer over a name in a file that is not UTF-8.
/// Here a NaN or a name used twice is std::logic_error or std::domain_error (a bug), and bytes that are not UTF-8
/// become U+FFFD.
///
/// Layout: two blanks a level; a container opened as `line` stays on one line, with all it holds.
class JsonWriter {
 public:
  enum class Layout : std::uint8_t { block, line };

  /// Room for a text of about so many bytes, so that a long one is not moved while it grows.
  void reserve(std::size_t bytes) { out_.reserve(bytes); }

  JsonWriter& begin_object(Layout layout = Layout::block);
  JsonWriter& end_object();
  JsonWriter& begin_array(Layout layout = Layout::block);
  JsonWriter& end_array();
  /// Name of the next member.  @throws std::logic_error outside an object, or when the object has it already.
  JsonWriter& key(std::string_view name);

  JsonWriter& text(std::string_view value);
  JsonWriter& number(double value);                 ///< @throws std::domain_error when it is not finite
  JsonWriter& number(std::optional<double> value);  ///< null where there is none
  JsonWriter& count(std::uint64_t value);
  JsonWriter& boolean(bool value);
  JsonWriter& null();
  /// A JSON text written elsewhere, as it is (its lines are not indented again).
  JsonWriter& raw(std::string_view json);

  // A member in one call.
  template <typename Value>
  JsonWriter& member(std::string_view name, const Value& value) {
    key(name);
    return put(value);
  }

  /// The whole text with a line end.  @throws std::logic_error while something is still open.
  std::string take();

 private:
  struct Level {
    bool is_object = false;
    bool one_line = false;
    bool has_items = false;
    std::size_t first_name = 0;  // into names_
  };
  struct Name {
    std::size_t at = 0;  // into out_, quotes included
    std::size_t length = 0;
  };

  JsonWriter& put(double value) { return number(value); }
  JsonWriter& put(const std::optional<double>& value) { return number(value); }
  JsonWriter& put(std::uint64_t value) { return count(value); }
  JsonWriter& put(bool value) { return boolean(value); }
  JsonWriter& put(const std::string& value) { return text(value); }
  JsonWriter& put(std::string_view value) { return text(value); }
  JsonWriter& put(const char* value) { return text(value); }

  void before_value();
  void next_item();
  void open(bool is_object, Layout layout);
  void close(bool is_object);
  void line_break();

  std::string out_;
  std::vector<Level> levels_;
  std::vector<Name> names_;  // of all open objects
  bool after_key_ = false;
  bool begun_ = false;
};

}  // namespace bagsplit::text
