#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "bagsplit/jobs/profile/profile.hpp"
#include "bagsplit/norms/catalogue.hpp"
#include "bagsplit/text/display.hpp"

/// Parts that the squad's and the player's page share.
namespace bagsplit::present {

/// "2026-04-14 to 2026-06-23", or the one date; empty when there is none.
std::string span_words(const std::vector<jobs::PlayerProfile>& players);

/// References by id, each with its citation and what must be said with it, one sentence or more each.
std::vector<std::string> reference_sentences(const std::vector<std::string>& sources,
                                             const norms::Catalogue& references);

/// References by id, each with its citation and what must be said with it; nothing for none.
std::string references_part(const std::vector<std::string>& sources, const norms::Catalogue& references,
                            const text::TextOptions& options);

/// Adds a word that is not there yet; an empty one never.
void add_once(std::vector<std::string>& words, const std::string& word);

/// "faster than the middle of Japanese girls (probability of being faster 0.83)"; empty without a band.
std::string band_words(const jobs::ProfilePercentile& percentile);

/// The estimate, or null where there is none.
inline const jobs::Estimate* pointer(const std::optional<jobs::Estimate>& estimate) {
  return estimate ? &*estimate : nullptr;
}

/// Cautions, or nothing.
std::string cautions_part(const jobs::ProfileResult& result, const text::TextOptions& options);

/// Times that do not fit, one sentence each, or nothing: first of all, since answers hang on it.
std::string suspected_part(const std::vector<jobs::SuspectedReading>& readings, const text::TextOptions& options);

/// "60 ft" where it is whole feet, else "18.00 m".
std::string base_words(double base_m);

}  // namespace bagsplit::present
