#include "bagsplit/present/machine/json_parts.hpp"

namespace bagsplit::present {

void text_or_null(text::JsonWriter& json, std::string_view name, std::string_view text) {
  json.key(name);
  if (text.empty()) {
    json.null();
  } else {
    json.text(text);
  }
}

void write_texts(text::JsonWriter& json, std::string_view name, const std::vector<std::string>& texts) {
  json.key(name).begin_array();
  for (const std::string& text : texts) {
    json.text(text);
  }
  json.end_array();
}

void write(text::JsonWriter& json, const inference::Estimate& estimate) {
  json.begin_object(text::JsonWriter::Layout::line)
      .member("mean", estimate.mean)
      .member("sd", estimate.sd)
      .member("lo", estimate.lo)
      .member("median", estimate.median)
      .member("hi", estimate.hi)
      .member("share_from_data", estimate.share_from_data)
      .end_object();
}

void write(text::JsonWriter& json, std::string_view name, const std::optional<inference::Estimate>& estimate) {
  json.key(name);
  if (estimate) {
    write(json, *estimate);
  } else {
    json.null();
  }
}

void write_json(text::JsonWriter& json, std::string_view text) {
  std::string indented;
  for (const char c : text) {
    indented += c;
    indented += c == '\n' ? "  " : "";
  }
  indented.erase(indented.find_last_not_of(" \n") + 1);
  json.raw(indented);
}

void write_model(text::JsonWriter& json, const inference::ModelFile& model) {
  write_json(json.key("model"), inference::write_model(model));
}

void write_suspected(text::JsonWriter& json, std::string_view name, std::span<const jobs::SuspectedReading> readings) {
  json.key(name).begin_array();
  for (const jobs::SuspectedReading& reading : readings) {
    json.begin_object().member("file", reading.file).member("line", std::uint64_t{reading.line});
    text_or_null(json, "column", reading.column);
    text_or_null(json, "player", reading.player);
    json.member("kind", reading.kind)
        .member("probability", reading.probability)
        .member("read_s", reading.read_s)
        .member("expected_s", reading.expected_s)
        .member("expected_sd_s", reading.expected_sd_s)
        .member("size_s", reading.size_s)
        .end_object();
  }
  json.end_array();
}

void write_suspected(text::JsonWriter& json, const jobs::SuspectedReadings& suspected) {
  write_suspected(json, "suspected_readings", suspected.surely);
  write_suspected(json, "maybe_readings", suspected.maybe);
  json.member("slip_rate", suspected.slip_rate);
}

void write(text::JsonWriter& json, const jobs::HangsOn& row) {
  json.begin_object(text::JsonWriter::Layout::line)
      .member("what", row.what)
      .member("file", row.file)
      .member("line", std::uint64_t{row.line})
      .member("only_one", row.only_one)
      .end_object();
}

}  // namespace bagsplit::present
