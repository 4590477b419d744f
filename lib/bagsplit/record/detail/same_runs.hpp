// Several recorders of one station: which entries are of one run. Not installed.
#pragma once

#include <cstdint>
#include <limits>
#include <span>
#include <vector>

#include "bagsplit/record/detail/pair_hmm.hpp"

/// By the order entries were typed in, by bib, by the times and, where known, by the clock; never by counting a child's
/// runs, since who misses one counts wrong from then on.
namespace bagsplit::record::detail {

struct MarkTime {
  std::uint32_t mark = 0;  ///< numbered along the course
  double time_s = 0.0;     ///< from the start
};

/// A run as one recorder has it.
struct WatchEntry {
  std::uint32_t bib = 0;
  std::vector<MarkTime> times;                                ///< by mark; may be empty
  double clock_s = std::numeric_limits<double>::quiet_NaN();  ///< time of day it was typed; NaN where not known
  std::vector<std::uint32_t> timers;  ///< whose watches: one watch times a run once, so two such entries are two runs
  std::vector<std::uint32_t> ties;    ///< entries that share a number are known to be one run, whatever else they say
  bool alone = false;                 ///< known to be in no other log
};

/// Where an entry stands.
struct EntryAt {
  std::uint32_t recorder = 0;
  std::uint32_t entry = 0;
  bool operator==(const EntryAt&) const = default;
};

/// What is known of recorders and children beforehand. Where no source is named: assumed, no source; measured to matter
/// little (tests/record/same_runs_test.cpp).
struct SameRunRules {
  PairMoves moves;
  double wrong_bib = 0.01;     ///< an entry carries another child's bib
  double slip = 0.02;          ///< a time that says nothing: a late thumb, a pen
  double slip_sd_s = 1.0;      ///< and how far off it then is
  double watches_sd_s = 0.12;  ///< SD of the difference of two watches before any is seen ...
  double watches_worth = 6;    ///< ... worth this many pairs
  double least_sd_s = 0.02;
  double within = 0.025;        ///< SD of a child's runs, as a share of the time
  double clock_sd_s = 12.0;     ///< of the difference of two recorders' delays from finish to entry
  double typed_later = 0.05;    ///< share of entries typed much later ...
  double later_s = 300.0;       ///< ... by this, mean of a Laplace
  double join = 0.98;           ///< P from which entries are joined
  double ask = 0.05;            ///< P from which, below that, it is asked
  double matters_s = 0.02;      ///< asked only where the answers part a child's best by more
  std::size_t whole_to = 1000;  ///< longer logs are compared within a band about the diagonal
  std::size_t band = 40;        ///< of this half width, and the difference in length
};

enum class RunDoubt : std::uint8_t {
  which_bib,      ///< one run, two bibs
  same_run,       ///< one run, or two of one child, or another's
  out_of_order,   ///< two entries of one bib that only one recorder each has: one run typed late?
  side_by_side,   ///< two neighbouring entries of two bibs that only one recorder each has: one run with a wrong bib?
  one_run_more,   ///< the child has more runs than most, this one by one recorder only
  one_run_fewer,  ///< the child has fewer runs than most
};

struct RunQuestion {
  RunDoubt doubt = RunDoubt::same_run;
  std::vector<EntryAt> entries;  ///< what is asked about first, then its rivals
  std::vector<double> chances;   ///< same_run: of each rival, after the first
  std::uint32_t bib = 0;         ///< one_run_fewer: whose
};

struct SameRuns {
  std::vector<std::vector<EntryAt>> runs;  ///< in the order they were run
  std::vector<RunQuestion> questions;
  std::vector<double> bias_s;  ///< by recorder: its watch less the longest log's
  double watches_sd_s = 0.12;  ///< of the difference of two watches, the last pair compared
  std::vector<double> chance;  ///< by entry, recorders one after another: P of the run it was put to, or of none
  std::size_t usual_runs = 0;  ///< median number of runs of a child
};

/// Aligns recorders' entries, each log in the order typed. Two logs: a pair hidden Markov model summed exactly; more:
/// the longest first, each next against the runs so far, then each once more against all the others. Bias and SD of the
/// watches are found from pairs that order and bibs alone make sure. No draws: the same input gives the same answer.
///
/// Not told: which of a child's runs in direct succession was missed where no clock stands; a wrong bib typed alike by
/// all; a watch that drifts. Cost: O(n m) for each pair of logs, a band of it above 1,000 entries.
SameRuns same_runs(std::span<const std::vector<WatchEntry>> logs, const SameRunRules& rules = {});

/// The bib most of a run's entries have; the first entry's where they are as many.
std::uint32_t bib_of_run(std::span<const std::vector<WatchEntry>> logs, std::span<const EntryAt> run);

}  // namespace bagsplit::record::detail
