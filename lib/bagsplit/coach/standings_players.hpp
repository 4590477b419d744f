// From a log to what is believed of each player: their own part and what ties them together. Not installed.
#pragma once

#include <Eigen/Core>
#include <cstdint>
#include <memory>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "bagsplit/basepath/surrogate.hpp"
#include "bagsplit/coach/assemble.hpp"
#include "bagsplit/coach/best_path_losses.hpp"
#include "bagsplit/coach/squad_model.hpp"
#include "bagsplit/coach/standings.hpp"
#include "bagsplit/coach/standings_quantity.hpp"

namespace bagsplit::coach::detail {

/// A player with the runs that count, before anything is estimated.
struct Entrant {
  runs::NameId id = runs::no_name;
  const runs::Player* player = nullptr;  ///< none where the roster lacks the id
  std::size_t runs = 0;                  ///< in the log
  Selection selection;
  std::optional<double> age_years;  ///< at the last run that counts
  std::optional<runs::Sex> sex;
  Assembled assembled;  ///< priors before any run
  LossMeans loss_means;
};

/// All players of the log by id.
std::vector<Entrant> entrants_of(const runs::RunLog& log, const runs::Roster& roster, const timing::DeviceBook& devices,
                                 const StandingsOptions& options, const sprint::ModelFile& defaults,
                                 const std::optional<basepath::LossTable>& best_paths);

/// What all players share, learnt from those with runs that count (a draw of them in a large log). Nothing without any.
std::optional<SquadModel> squad_of(std::span<const Entrant> entrants, const StandingsOptions& options,
                                   const sprint::ModelFile& defaults);

/// What one more run of one kind would do to the variance of a quantity.
struct RunEffect {
  std::uint16_t course = 0;
  double told = 0.0;          ///< variance that such runs could take away, however many
  double run_variance = 0.0;  ///< after n: told / (1 + n told / run_variance) of it is left
};

/// What is believed of the parts of the order, at one point of the squad's design.
struct PointBelief {
  std::vector<sprint::Estimate> parts;
  Eigen::MatrixXd own;               ///< covariance of the parts
  std::vector<std::uint32_t> about;  ///< shared quantities
  Eigen::MatrixXd on_shared;         ///< parts x about: regression of the parts on them
};

struct Belief {
  std::vector<PointBelief> points;  ///< none: not ranked
  std::vector<sprint::Estimate> parts;  ///< over all points
  std::vector<std::optional<sprint::Normal>> expected;  ///< at this age and sex, one a part
  RunEffect effect;                                     ///< of the run that tells most, on the first part or the index
  std::string why;                                      ///< why not ranked
  bool certified = true;
};

/// @param part_weights  of the parts in the sum that is ordered, at the scale of their own units.
Belief belief_of(const Entrant& entrant, const SquadModel& squad, std::span<const ResolvedQuantity> parts,
                 const runs::RunLog& log, double level);

/// Effect on a weighted sum of the parts.
RunEffect effect_of(const Entrant& entrant, const SquadModel& squad, std::span<const ResolvedQuantity> parts,
                    std::span<const double> weights, const runs::RunLog& log, double level);

}  // namespace bagsplit::coach::detail
