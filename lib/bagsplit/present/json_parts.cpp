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

void write(JsonWriter& json, const sprint::Estimate& estimate) {
  json.begin_object(JsonWriter::Layout::line)
      .member("mean", estimate.mean)
      .member("sd", estimate.sd)
      .member("lo", estimate.lo)
      .member("median", estimate.median)
      .member("hi", estimate.hi)
      .member("share_from_data", estimate.share_from_data)
      .end_object();
}

void write(JsonWriter& json, std::string_view name, const std::optional<sprint::Estimate>& estimate) {
  json.key(name);
  if (estimate) {
    write(json, *estimate);
  } else {
    json.null();
  }
}

void write_json(JsonWriter& json, std::string_view text) {
  std::string indented;
  for (const char c : text) {
    indented += c;
    indented += c == '\n' ? "  " : "";
  }
  indented.erase(indented.find_last_not_of(" \n") + 1);
  json.raw(indented);
}

void write_model(JsonWriter& json, const sprint::ModelFile& model) {
  write_json(json.key("model"), sprint::write_model(model));
}

}  // namespace bagsplit::present
