#pragma once

#include <string>

#include "bagsplit/jobs/profile/profile.hpp"

namespace bagsplit::present {

/// A profile for programs: JSON, schema "bagsplit.profile/2"
/// (data/schemas/profile.schema.json says what each key means).
///
/// Key order is fixed; a key once documented keeps its meaning. A quantity is
/// {mean, sd, lo, median, hi, share_from_data} or null when no included reading
/// depends on it. Every number has all its digits; one that is not finite is a
/// bug and throws.
std::string profile_json(const jobs::ProfileResult& result);

}  // namespace bagsplit::present
