#pragma once

#include <map>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "bagsplit/inference/posterior/posterior.hpp"
#include "bagsplit/inference/squad/squad_model.hpp"
#include "bagsplit/jobs/profile/detail/profile_job.hpp"
#include "bagsplit/jobs/profile/sheet_doubts.hpp"

/// Whole rows and drills that a squad's model doubts; stays inside the module.
namespace bagsplit::jobs {

/// Prior chances, of a run: that it was swapped with another, stands under a wrong bib, has the wrong posture; and of a
/// drill that it has. No source: rare, and a wrong suggestion costs more than a missed one.
inline constexpr double chance_of_swap = 0.02;
inline constexpr double chance_of_wrong_bib = 0.01;
inline constexpr double chance_of_wrong_posture = 0.01;
inline constexpr double chance_of_wrong_posture_alone = 0.2;  ///< of the only run of its drill that is typed so
inline constexpr double chance_of_wrong_drill = 0.02;

/// One child under what the rest of the squad says, at the mode of the scales.
struct DoubtedChild {
  /// What the posterior of `data` says.
  void take(const inference::Posterior& posterior);

  runs::NameId id = 0;
  const inference::Selection* selection = nullptr;
  Prepared prepared;
  inference::PlayerData data;
  double robust = 0.0;              ///< log evidence, slips allowed for
  motion::Sprint mode{};            ///< of the posterior
  std::vector<double> slip_of_run;  ///< that anything is wrong in it, by place in the selection
  std::vector<SuspectedReading> cells;
};

/// Evidence of a child's runs under what the rest of the squad says.
class ChildEvidence {
 public:
  /// What is passed stays with the caller.
  ChildEvidence(const ProfileJob& job, const inference::SquadModel& squad) : job_(job), squad_(squad) {}

  DoubtedChild child(runs::NameId id, const inference::Selection& selection) const;
  /// Log evidence of other runs than those the child is known by, as the log of `job` has them.
  double of_runs(const ProfileJob& job, const DoubtedChild& child, std::vector<std::uint32_t> used, bool slips) const;
  /// Log evidence with the times of one run in place of another's of the same marks.
  /// @param effort  the scatter of the efforts, as a share of what was fitted.
  /// @param slips   whether any time may be wrong; else every time counts in full.
  double with_times(const DoubtedChild& child, std::size_t run, const DoubtedChild& other, std::size_t other_run,
                    double effort, bool slips) const;
  /// Log evidence of the runs as they stand, slips allowed for.
  double as_logged(const DoubtedChild& child, double effort) const;

 private:
  static double evidence_of(const DoubtedChild& child, const inference::PlayerData& data);
  inference::PlayerData data_of(const DoubtedChild& child, const inference::Assembled& assembled) const;

  const ProfileJob& job_;
  const inference::SquadModel& squad_;
};

/// Runs of two children that look swapped (two entries a pair), then runs that look like somebody else's.
/// @param done      runs that are told otherwise already; those found are added.
/// @param mixed_up  the chance that a run of a child was swapped, whichever it was; children without any are not in it.
std::vector<SuspectedReading> doubt_owners(const ProfileJob& job, const ChildEvidence& evidence,
                                           std::span<const DoubtedChild> children, std::vector<bool>& done,
                                           std::map<runs::NameId, double>& mixed_up);

/// Straight drills whose posture looks wrong for all who ran them, then single runs of them. Standing and prone only.
/// @param done  as doubt_owners().
std::vector<SuspectedReading> doubt_drills(const ProfileJob& job, std::span<const DoubtedChild> children,
                                           std::vector<bool>& done);
std::vector<SuspectedReading> doubt_postures(const ProfileJob& job, const ChildEvidence& evidence,
                                             std::span<const DoubtedChild> children, std::vector<bool>& done);

/// All of them, and single times; job.squad is there.
SheetDoubts doubt_rows(const ProfileJob& job, std::span<const DoubtedChild> children);

/// What is left of a player's single times in doubt where a run of theirs may have been swapped: less sure, or gone.
/// @param mixed_up  as SheetDoubts has it.
void allow_for_swaps(const std::map<runs::NameId, double>& mixed_up, runs::NameId player,
                     std::vector<SuspectedReading>& readings);

/// An entry about a run: its first reading's line; times at its last mark.
SuspectedReading about_run(const runs::RunLog& log, std::uint32_t run, std::string kind, double probability);

}  // namespace bagsplit::jobs
