#include "bagsplit/inference/posterior/doubt.hpp"

#include <algorithm>
#include <utility>
#include <vector>

namespace bagsplit::inference {

namespace {

constexpr double likely_group = 0.05;
constexpr double least_in_group = 0.8;

}  // namespace

std::optional<std::size_t> fails_in(std::span<const double> p_of_group, std::span<const SlipGroup> groups,
                                    double least) {
  if (groups.empty()) {
    return std::nullopt;
  }
  double holds = 0.0;
  double all = 0.0;
  for (std::size_t g = 0; g < groups.size(); ++g) {
    holds += groups[g].if_commoner * p_of_group[g];
    all += groups[g].if_commoner;
  }
  std::optional<std::size_t> worst;
  for (std::size_t g = 0; g < groups.size(); ++g) {
    const bool fails = holds < least * all || (groups[g].probability >= likely_group && p_of_group[g] < least_in_group);
    if (fails && (!worst || p_of_group[g] < p_of_group[*worst])) {
      worst = g;
    }
  }
  return worst;
}

std::uint32_t told_apart_by(std::span<const SlipGroup> groups, std::size_t group,
                            std::span<const double> slip_of_reading) {
  const auto only_in = [&](const SlipGroup& a, const SlipGroup& b) -> std::optional<std::uint32_t> {
    for (const std::uint32_t reading : a.readings) {
      if (std::find(b.readings.begin(), b.readings.end(), reading) == b.readings.end()) {
        return reading;
      }
    }
    return std::nullopt;
  };
  for (const auto& [a, b] : {std::pair(group, std::size_t{0}), std::pair(std::size_t{0}, group)}) {
    if (const auto reading = only_in(groups[a], groups[b])) {
      return *reading;
    }
  }
  return static_cast<std::uint32_t>(std::max_element(slip_of_reading.begin(), slip_of_reading.end()) -
                                    slip_of_reading.begin());
}

std::optional<std::uint32_t> hangs_on(const Posterior& posterior, std::span<const double> p_at_node, double least) {
  const std::span<const SlipGroup> groups = posterior.slip_groups();
  std::vector<double> holds(groups.size(), 0.0);
  std::vector<double> all(groups.size(), 0.0);
  for (std::size_t i = 0; i < posterior.group_of_node().size(); ++i) {
    holds[posterior.group_of_node()[i]] += posterior.weights()[i] * p_at_node[i];
    all[posterior.group_of_node()[i]] += posterior.weights()[i];
  }
  for (std::size_t g = 0; g < groups.size(); ++g) {
    holds[g] = all[g] > 0.0 ? holds[g] / all[g] : 1.0;
  }
  const auto group = fails_in(holds, groups, least);
  return group ? std::optional(told_apart_by(groups, *group, posterior.slip_of_reading())) : std::nullopt;
}

}  // namespace bagsplit::inference
