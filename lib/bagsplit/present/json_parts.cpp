#include "bagsplit/present/json_parts.hpp"

namespace bagsplit::present {

void text_or_null(JsonWriter& json, std::string_view name, std::string_view text) {
  json.key(name);
  if (text.empty()) {
    json.null();
  } else {
    json.text(text);
  }
}

void write_texts(JsonWriter& json, std::string_view name, const std::vector<std::string>& texts) {
  json.key(name).begin_array();
  for (const std::string& text : texts) {
    json.text(text);
  }
  json.end_array();
}

}  // namespace bagsplit::present
