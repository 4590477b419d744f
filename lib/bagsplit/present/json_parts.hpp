#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "bagsplit/coach/profile.hpp"
#include "bagsplit/present/json_writer.hpp"

/// Parts that several documents share.
namespace bagsplit::present {

/// A member that is a text, or null where there is none.
void text_or_null(JsonWriter& json, std::string_view name, std::string_view text);

/// A member that is a list of texts.
void write_texts(JsonWriter& json, std::string_view name, const std::vector<std::string>& texts);

/// An estimate: mean, sd, lo, median, hi, share_from_data.
void write(JsonWriter& json, const coach::Estimate& estimate);
/// The same as a member, or null.
void write(JsonWriter& json, std::string_view name, const std::optional<coach::Estimate>& estimate);

/// A model file's JSON, to stand as a member one level deep.
std::string indented_model(const sprint::ModelFile& model);

}  // namespace bagsplit::present
