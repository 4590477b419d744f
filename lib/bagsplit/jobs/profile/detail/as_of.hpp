// Where dates span weeks: every time of a log as it would have been on one day, by the season model. Not installed.
#pragma once

#include <map>
#include <optional>
#include <span>
#include <vector>

#include "bagsplit/inference/reading/assemble.hpp"
#include "bagsplit/inference/season/fit.hpp"
#include "bagsplit/jobs/profile/profile.hpp"

namespace bagsplit::jobs {

// What is not known of a child's ability on a day beside its mean over its own dates: shares of moving time. The
// interval is that of ProfileOptions::level and seldom even: a child that may have changed has one long side.
struct LeadDoubt {
  double sd = 0.0;
  double faster = 0.0, slower = 0.0;  // from the mean to either end
};

// A child on one of its dates beside the day that ability is of.
struct Then {
  runs::Date date{};
  double slower = 0.0;  // share of moving time by which it was slower
  LeadDoubt doubt;      // beside its mean over its own dates
};

struct AsOf {
  runs::Date day{};
  long weeks = 0;               // from the first run to that day
  std::vector<double> later_s;  // of each split of the log: what the time is on that day beyond what was read
  std::map<runs::NameId, LeadDoubt> doubt;
  std::map<runs::NameId, std::vector<Then>> dates;
};

// @param selections  the runs that count, one a player.
// @return nothing where the runs, or they and options.as_of, span most_days_unsaid or less, or are of one date, or of
// more children than the season model is asked of at once.
std::optional<AsOf> as_of(const runs::RunLog& log, const runs::Roster& roster, const timing::DeviceBook& devices,
                          const ProfileOptions& options, std::span<const inference::Selection> selections);

// Adds that to an estimate: the interval is stretched about its median.
// @param slope  by how much the value rises were all times longer by their whole length.
void widen(Estimate& estimate, const LeadDoubt& doubt, double slope);

}  // namespace bagsplit::jobs
