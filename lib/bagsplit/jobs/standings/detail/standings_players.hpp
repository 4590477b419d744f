// From a log to what is believed of each player: their own part and what ties them together. Not installed.
#pragma once

#include <Eigen/Core>
#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "bagsplit/jobs/profile/detail/profile_job.hpp"
#include "bagsplit/jobs/standings/detail/standings_quantity.hpp"

namespace bagsplit::jobs::detail {

/// A player of the log, before anything is estimated.
struct Entrant {
  runs::NameId id = runs::no_name;
  std::size_t runs = 0;  ///< in the log
  Prepared prepared;

  bool runs_count() const { return !prepared.selection.used.empty(); }
};

/// All players of the log, by id.
std::vector<Entrant> entrants_of(const ProfileJob& job);

/// What all players share, learnt from those with runs that count, in a large log from a draw of them. Every timer is
/// part of it, also of players not drawn.
/// @param fixed  the scales are taken from this model, not learnt.   @return nothing where nobody has a run that
/// counts.
std::optional<inference::SquadModel> squad_of(std::span<const Entrant> entrants, const inference::ModelFile* fixed,
                                              unsigned threads);

/// What more runs of one kind would do to the variance of a quantity: n of them leave told / (1 + n told /
/// run_variance) of `told`, the part that any number could take away.
struct RunEffect {
  std::uint16_t course = 0;
  double told = 0.0;
  double run_variance = 0.0;
};

/// What it takes to tell that: the parts and x = (log V, log tau, terms) at the mode of the squad's design.
struct Prospect {
  inference::PlayerData data;
  motion::Sprint centre{};
  Eigen::MatrixXd covariance;  ///< of x
  Eigen::MatrixXd with_own;    ///< parts x x
};

/// Draws are made from quantiles at this level, whatever level is shown.
inline constexpr double draw_level = 0.9;

/// What is believed of the parts of an order, at one point of the squad's design.
struct PointBelief {
  std::vector<inference::Estimate> parts;  ///< at draw_level
  Eigen::MatrixXd own;                     ///< covariance of the parts
  std::vector<std::uint32_t> about;        ///< shared quantities
  Eigen::MatrixXd on_shared;               ///< parts x about: their regression on those
};

/// The parts given one group of slips, at the mode of the squad's design.
struct GroupBelief {
  inference::SlipGroup slips;
  std::uint32_t log_reading = 0;         ///< by which it differs from the likeliest group
  std::vector<inference::Normal> parts;  ///< mean and SD
};

struct Belief {
  std::vector<PointBelief> points;                         ///< one a point of the design; none: not ranked
  std::vector<inference::Estimate> parts;                  ///< over all points, at the level asked for
  std::vector<std::optional<inference::Normal>> expected;  ///< at this age and sex, one a part
  std::optional<Prospect> prospect;                        ///< where asked for
  std::vector<GroupBelief> groups;                         ///< where readings may be wrong; empty: one for all
  std::vector<SuspectedReading> suspected;
  std::optional<double> all_fit;
  std::string why;  ///< why not ranked
  bool certified = true;
};

/// @param prospect  whether it is asked for.
Belief belief_of(const Entrant& entrant, const inference::SquadModel& squad, std::span<const ResolvedQuantity> parts,
                 double level, bool prospect, const runs::RunLog& log);

/// When a run would be run.
enum class NextDay : bool { same, other };

/// Of one more run like those the player had, the one that tells most of a weighted sum of the parts; a time is run
/// again over its own course. On the last date the form of that day stays in what is read, on another one it is a new
/// one.
/// @param weights  one a part, in the parts' own units.
RunEffect effect_of(const Entrant& entrant, const Belief& belief, std::span<const ResolvedQuantity> parts,
                    std::span<const double> weights, const runs::RunLog& log, NextDay day);

}  // namespace bagsplit::jobs::detail
