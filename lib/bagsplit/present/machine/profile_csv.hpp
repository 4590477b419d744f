#pragma once

#include <string>

#include "bagsplit/jobs/profile/profile.hpp"

namespace bagsplit::present {

/// A profile for spreadsheets: CSV in long form, one row a player and quantity.
///
/// Columns: player, age_years, sex, runs_used, runs_left_out, quantity, mean,
/// sd, lo, median, hi, share_from_data, level, source. `quantity` is the name
/// in the JSON with its unit ("segment_loss_s.second"); `percentile.20m` is 0
/// to 100, higher is better, and `source` names its reference. A quantity the
/// data tell nothing of has empty fields.
std::string profile_csv(const jobs::ProfileResult& result);

}  // namespace bagsplit::present
