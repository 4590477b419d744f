#pragma once

#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "bagsplit/inference/posterior/posterior.hpp"
#include "bagsplit/inference/prior/model.hpp"
#include "bagsplit/jobs/profile/suspected.hpp"
#include "bagsplit/text/json_writer.hpp"

/// Parts that several documents share.
namespace bagsplit::present {

/// A member that is a text, or null where there is none.
void text_or_null(text::JsonWriter& json, std::string_view name, std::string_view text);

/// A member that is a list of texts.
void write_texts(text::JsonWriter& json, std::string_view name, const std::vector<std::string>& texts);

/// An estimate, on one line: mean, sd, lo, median, hi, share_from_data.
void write(text::JsonWriter& json, const inference::Estimate& estimate);
/// The same as a member, or null.
void write(text::JsonWriter& json, std::string_view name, const std::optional<inference::Estimate>& estimate);

/// A JSON text written elsewhere, moved in to where it stands: one level deep. JSON texts hold no bare line end.
void write_json(text::JsonWriter& json, std::string_view text);

/// The members "suspected_readings", "maybe_readings" and "slip_rate".
void write_suspected(text::JsonWriter& json, const jobs::SuspectedReadings& suspected);

/// A row that an answer hangs on: what, file, line and whether it is the only run that tells it.
void write(text::JsonWriter& json, const jobs::HangsOn& row);

/// The member "model": a model file as write_model() has it.
void write_model(text::JsonWriter& json, const inference::ModelFile& model);

/// A member that is a list of readings in doubt.
void write_suspected(text::JsonWriter& json, std::string_view name, std::span<const jobs::SuspectedReading> readings);

}  // namespace bagsplit::present
