// Differences between two readings of one run: at which mark, and which of them are no timer's habit. Not installed.
#pragma once

#include <cstddef>
#include <optional>
#include <span>
#include <string_view>
#include <vector>

#include "bagsplit/runs/run.hpp"

namespace bagsplit::jobs::detail {

struct CommonMark {
  double first_s = 0.0, second_s = 0.0;
  runs::NameId mark = runs::no_name;  ///< as the first names it
};

/// The farthest mark that both timed, other than the first move.
/// @param mark  empty, or the only mark that counts: its name, or its distance as in "20m".
std::optional<CommonMark> farthest_common_mark(const runs::RunLog& log, const runs::Reading& first,
                                               const runs::Reading& second, std::string_view mark = {});

struct Outliers {
  double median_s = 0.0;
  double robust_sd_s = 0.0;   ///< 1.4826 MAD
  std::vector<bool> far_off;  ///< one a difference; all false below 6 differences
};

/// Differences more than 4 robust SDs, at the least 0.04 s, from their median: slips of a thumb or a pen.
/// Common practice, no source.
/// @param differences_s  taken to a ten-thousandth: times are typed in hundredths or thousandths.
Outliers outliers_of(std::span<const double> differences_s);

}  // namespace bagsplit::jobs::detail
