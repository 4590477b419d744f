#pragma once

#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "bagsplit/basepath/surrogate.hpp"
#include "bagsplit/inference/posterior/posterior.hpp"
#include "bagsplit/inference/reading/assemble.hpp"
#include "bagsplit/inference/reading/best_path_losses.hpp"
#include "bagsplit/inference/squad/squad_model.hpp"
#include "bagsplit/jobs/profile/detail/as_of.hpp"
#include "bagsplit/jobs/profile/profile.hpp"
#include "bagsplit/jobs/profile/sheet_doubts.hpp"

/// The parts of profile(); stays inside the module.
namespace bagsplit::jobs {

/// The runs of each player, in the order of the log; players in their order.
struct RunsByPlayer {
  explicit RunsByPlayer(const runs::RunLog& log);

  std::vector<runs::NameId> players;
  std::vector<std::vector<std::uint32_t>> runs;  ///< indices into RunLog::runs, one list a player
};

/// What must be said wherever runs are asked for.
/// @param fastest_mps  of the fastest player, for the run-out.
std::vector<std::string> cautions_for(const runs::RunLog& log, double fastest_mps);

/// Everything that stays the same over the players.
struct ProfileJob {
  const runs::RunLog& log;
  const runs::Roster& roster;
  const timing::DeviceBook& devices;
  const norms::Catalogue& norms;
  const ProfileOptions& options;
  const inference::SegmentNames& segments;
  inference::ModelFile defaults;
  std::optional<basepath::LossTable> best_paths;  ///< where some course is on the bases
  const inference::SquadModel* squad = nullptr;
  bool ages_alike = false;                      ///< of players without an age, see Assembled::ages_alike
  const ProfileJob* at_median_level = nullptr;  ///< the same at that level, where another one is asked for
  const AsOf* as_of = nullptr;                  ///< where dates span weeks
};

/// With the best paths where some course is on the bases; nothing of a squad yet. What is passed stays with the caller.
ProfileJob job_of(const runs::RunLog& log, const runs::Roster& roster, const timing::DeviceBook& devices,
                  const norms::Catalogue& norms, const ProfileOptions& options,
                  const inference::SegmentNames& segments);

/// Scratch of one player's computation.
struct Scratch {
  std::vector<double> values, means, sds;

  void resize(std::size_t nodes) {
    values.resize(nodes);
    means.resize(nodes);
    sds.resize(nodes);
  }
};

/// One player's runs, ready for the model, before anything is estimated.
struct Prepared {
  inference::Selection selection;
  const runs::Player* player = nullptr;  ///< nothing where the roster lacks the id
  std::optional<double> age_years;       ///< on the day that ability is of, else at the last run used
  LeadDoubt lead_doubt;
  inference::SprintPrior prior;
  inference::Assembled assembled;  ///< its priors are those before any run, of the player or of the squad
  inference::LossMeans loss_means;
};

Prepared prepare(const ProfileJob& job, runs::NameId name, inference::Selection selection);

/// The squad's model from all players with runs, or a draw of them; nothing where nobody has a run.
/// @param selections  of the players, in their order.
std::optional<inference::SquadModel> squad_of(const ProfileJob& job, std::span<const runs::NameId> players,
                                              std::span<const inference::Selection> selections, unsigned threads);

SquadSummary summary_of(const inference::SquadModel& model, double level);

/// What the squad's runs tell of its starts.  @param players  with their estimates.
FirstSteps first_steps_of(const inference::SquadModel& model, std::span<const PlayerProfile> players);

/// A child's own part of log first acceleration.  @param posterior  of member_data(model.fit, point, member, index).
OwnFirstAcceleration own_first_acceleration(const inference::SquadModel& model, const inference::SquadPoint& point,
                                            const inference::SquadMember& member, std::optional<std::size_t> index,
                                            const inference::Posterior& posterior,
                                            const inference::TermMeans& term_means);

/// Fills every estimate that the player's runs bear.  @param posterior  of prepared.assembled.data, or of what the
/// squad made of it.
void add_estimates(const ProfileJob& job, const Prepared& prepared, const inference::Posterior& posterior,
                   Scratch& scratch, PlayerProfile& profile);

/// Fills PlayerProfile::hangs_on: of the losses, the reaction and the first steps, where they are known.
void add_hangs_on(const ProfileJob& job, const Prepared& prepared, const inference::Posterior& posterior,
                  PlayerProfile& profile);

/// The player's time as each reference would have measured it, and its percentile.
void add_percentiles(const ProfileJob& job, const Prepared& prepared, const inference::Posterior& posterior,
                     Scratch& scratch, PlayerProfile& profile);

/// Fills ProfilePercentile::over_dates.
void add_places(const ProfileJob& job, runs::NameId name, PlayerProfile& profile);

/// One profile from those at each point of the squad's design.  @param point_weights  sum 1, one a version.
PlayerProfile merge_profiles(std::span<const double> point_weights, std::vector<PlayerProfile>& versions, double level);

/// Takes the medians of another merged profile of the same quantities.
void take_medians(const PlayerProfile& from, PlayerProfile& to);

}  // namespace bagsplit::jobs
