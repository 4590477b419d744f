#pragma once

#include <optional>
#include <string>
#include <vector>

#include "bagsplit/norms/catalogue.hpp"
#include "bagsplit/runs/player.hpp"
#include "bagsplit/text/display.hpp"

/// The published references: which there are, and what they say of a time.
namespace bagsplit::present {

/// Every reference with its ages, distance, timing, quality, citation, licence and what must be said with it, by what
/// it may be used for.
std::string norms_text(const norms::Catalogue& catalogue, const text::TextOptions& options);
/// One row a reference; units in the names of the columns.
std::string norms_csv(const norms::Catalogue& catalogue);
/// Schema "bagsplit.norms/1".
std::string norms_json(const norms::Catalogue& catalogue);

/// A time looked up.
struct Lookup {
  double distance_m = 0.0;
  std::optional<double> age_years;
  std::optional<runs::Sex> sex;
  double time_s = 0.0;
  norms::Clock clock = norms::Clock::as_norm;
  std::vector<norms::Found> found;  ///< of Catalogue::lookup
};

std::string lookup_text(const Lookup& lookup, const text::TextOptions& options);
/// One row a reference: source, percentile, z, band, median_s, at_limit, sentence.
std::string lookup_csv(const Lookup& lookup);
/// Schema "bagsplit.norms-lookup/1".
std::string lookup_json(const Lookup& lookup);

}  // namespace bagsplit::present
