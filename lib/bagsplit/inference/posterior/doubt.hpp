#pragma once

#include <cstddef>
#include <cstdint>
#include <optional>
#include <span>

#include "bagsplit/inference/posterior/posterior.hpp"

/// Whether what is said surely hangs on one reading being right, or wrong.
namespace bagsplit::inference {

/// A statement that is likely enough over all groups of slips is sure only if it stays so were slips five times as
/// common, and if no group of 1 in 20 or more leaves it below 4 in 5.
/// @param p_of_group  probability of the statement given each group.   @param least  from which it is said to be sure.
/// @return the group it fails in; nothing where it is sure.
std::optional<std::size_t> fails_in(std::span<const double> p_of_group, std::span<const SlipGroup> groups,
                                    double least);

/// The reading by which a group differs from the likeliest one, into PlayerData::readings.
std::uint32_t told_apart_by(std::span<const SlipGroup> groups, std::size_t group,
                            std::span<const double> slip_of_reading);

/// @param p_at_node  probability of the statement at each node.
/// @return the reading it hangs on; nothing where it is sure.
std::optional<std::uint32_t> hangs_on(const Posterior& posterior, std::span<const double> p_at_node, double least);

}  // namespace bagsplit::inference
