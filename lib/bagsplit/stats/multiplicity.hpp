#pragma once

#include <cstddef>
#include <span>
#include <vector>

/// Adjusted p-values for m tests at once. Reject where the adjusted value is <= alpha.
///
///   method        controls                             under
///   bonferroni    P(any false rejection)               any dependence
///   holm          P(any false rejection)               any dependence; never worse than Bonferroni
///   hochberg      P(any false rejection)               independence or positive dependence
///   bh            expected share of false rejections   independence or positive dependence (Benjamini & Hochberg)
///   by            expected share of false rejections   any dependence (Benjamini & Yekutieli)
///
/// Source: Holm (1979), Scand J Stat 6:65-70; Hochberg (1988), Biometrika 75:800-802; Benjamini & Hochberg (1995), J R
/// Stat Soc B 57:289-300, doi:10.1111/j.2517-6161.1995.tb02031.x; Benjamini & Yekutieli (2001), Ann Stat 29:1165-1188.
namespace bagsplit::stats {

enum class Adjustment { bonferroni, holm, hochberg, bh, by };

/// Adjusted p-values, in the order of the input, never above 1; equal p-values get equal adjusted ones.
/// @param p  m values in [0, 1], any order. Empty gives empty, one is returned as it is.
/// @throws std::domain_error naming the index of a value outside [0, 1].  Cost: O(m log m).
std::vector<double> adjusted_p_values(std::span<const double> p, Adjustment method);

/// How many of the adjusted values are <= alpha.
std::size_t count_rejected(std::span<const double> adjusted, double alpha);

}  // namespace bagsplit::stats
