#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "bagsplit/present/json_writer.hpp"

/// Parts that several documents share.
namespace bagsplit::present {

/// A member that is a text, or null where there is none.
void text_or_null(JsonWriter& json, std::string_view name, std::string_view text);

/// A member that is a list of texts.
void write_texts(JsonWriter& json, std::string_view name, const std::vector<std::string>& texts);

}  // namespace bagsplit::present
