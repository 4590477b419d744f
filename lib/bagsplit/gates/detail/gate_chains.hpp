// From beams broken to runs: which breaks are one body's on its way along the course. Not installed.
#pragma once

#include <cstddef>
#include <optional>
#include <span>
#include <utility>
#include <vector>

namespace bagsplit::gates::detail {

/// One body breaking one beam.
struct Break {
  std::vector<std::size_t> places;  ///< along the course, 0 the start: two where one gate stands at both ends
  double t_s = 0.0;                 ///< on its clock
  std::size_t clock = 0;
};

/// What is assumed of beams and runners. Where no source is named: assumed, no source; a factor of 3 on misses and
/// strays hardly matters (tests/gates).
struct ChainRules {
  double miss = 0.02;             ///< a beam does not see a runner
  double stray_per_start = 0.03;  ///< breaks of nobody on the list, for each start, over all gates
  double sd_run = 0.11;  ///< SD of the log time of a stretch that a runner has in all; learnt, at the least this
  double sd_own = 0.05;  ///< and that each stretch has of its own
  double wide = 0.02;    ///< share of runs with much more: a fall, a look round
  double fall_sd = 0.35;
  double within = 0.022;                ///< SD of the log time of one child's runs
  double pause = 0.05;                  ///< share of intervals between starts that are pauses
  double least_weight = -7.0;           ///< chains less likely than this against nobody's breaks, in logs, are left out
  double slowest = 2.6, fastest = 2.2;  ///< a stretch takes its median at most times this, at the least divided by this
  std::size_t most_places = 5;     ///< with more gates, breaks are grouped by pairs that fit in place of whole chains
  std::size_t most_worlds = 1000;  ///< explanations of one group of breaks kept at once
  double worlds_apart = 30.0;      ///< and how much less likely, in logs, than the best
};

/// A run: the breaks of one body, in order.
struct Chain {
  struct Step {
    std::size_t place = 0, at = 0;  ///< place along the course; number of the break
    bool operator==(const Step&) const = default;
  };
  std::vector<Step> steps;
  double exists = 1.0;         ///< P that the group of breaks holds as many runs as here
  std::vector<double> chance;  ///< by place: P that the break there and the one at the start are one run's; 0: none
  double start_s = 0.0;        ///< of the start, worked out where its beam was not broken
  std::size_t clock = 0;
  double level = 0.0;           ///< log of the time over what is usual
  double level_variance = 0.0;  ///< of one run of a child
};

struct Chains {
  std::vector<Chain> runs;          ///< in the order of starting
  std::vector<std::size_t> strays;  ///< numbers of breaks of nobody
  std::vector<double> usual_s;      ///< by stretch: median
  double sd_run = 0.0;
  /// Where a run may be that one beam alone saw: before which of `runs`, and its weight.
  std::vector<std::pair<std::size_t, double>> hints;
};

/// The likeliest runs, with the sums over all explanations: breaks that can be one run's are grouped, and in each group
/// all choices of disjoint chains are weighed, a break of none of them being nobody's. Stretch times are lognormal
/// about the file's medians, with a level of the run in common.
///
/// @param breaks  by clock, then time.  @param common_s  by stretch: a common sprint, where the file tells too little.
/// @param starts  lines of the start list. Cost: O(breaks) but where many are on the course at once.
Chains chains_of(std::span<const Break> breaks, std::span<const double> common_s, std::size_t starts,
                 const ChainRules& rules = {});

}  // namespace bagsplit::gates::detail
