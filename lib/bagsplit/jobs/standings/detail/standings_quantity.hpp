// What an order is by: found in the log, and worked out of a player's posterior. Not installed.
#pragma once

#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <utility>
#include <variant>
#include <vector>

#include "bagsplit/basepath/surrogate.hpp"
#include "bagsplit/inference/reading/assemble.hpp"
#include "bagsplit/inference/reading/best_path_losses.hpp"
#include "bagsplit/inference/squad/squad.hpp"
#include "bagsplit/jobs/standings/standings.hpp"

namespace bagsplit::jobs::detail {

/// A quantity with all that a player's posterior needs to give it.
struct ResolvedQuantity {
  RankedQuantity words;                            ///< complete
  std::optional<TimeConditions> time;              ///< of a time
  std::optional<std::uint16_t> course;             ///< into RunLog::courses; of a time or path efficiency
  runs::NameId mark = runs::no_name;               ///< of a time, as most runs name it
  std::vector<std::string> losses;                 ///< keys of the segments in it
  double length_m = 0.0;                           ///< of the course of path efficiency
  std::optional<basepath::LossSurface> best_path;  ///< of path efficiency

  /// The time of a reading at the mark; nothing where it has none or another start.
  std::optional<double> time_of(const runs::RunLog& log, const runs::Run& run, const runs::Reading& reading) const;
};

/// @param used   runs that count, of all players.   @param heats  into RunLog::heats: their finishes are times to order
/// by as well.
std::variant<ResolvedQuantity, StandingsRefusal> resolve(const RankedQuantity& words, const runs::RunLog& log,
                                                         std::span<const std::uint32_t> used,
                                                         std::span<const std::uint32_t> heats,
                                                         const std::optional<basepath::LossTable>& best_paths);

/// A quantity as a player's runs tell it: its summary, and node by node.
struct QuantityBelief {
  inference::Estimate value;
  inference::NodeQuantity nodes;
};

/// @param terms  names of the posterior's terms.   @return nothing, with the reason in `why`, where the runs do not
/// tell.
std::optional<QuantityBelief> belief_of(const ResolvedQuantity& quantity, std::span<const inference::Term> terms,
                                        const inference::LossMeans& loss_means, const inference::Posterior& posterior,
                                        double level, std::string& why);

/// What is expected of a player before any run, from age and sex: mean and SD between children.
/// @param prepared  before the squad's model is laid over it.
std::optional<inference::Normal> expected_of(const ResolvedQuantity& quantity, const inference::Assembled& prepared,
                                             const inference::LossMeans& loss_means);

}  // namespace bagsplit::jobs::detail
