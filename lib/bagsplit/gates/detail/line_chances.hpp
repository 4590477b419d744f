// Runs seen by gates against the lines of a start list: who ran which. Not installed.
#pragma once

#include <cstddef>
#include <cstdint>
#include <optional>
#include <span>
#include <string_view>
#include <utility>
#include <vector>

namespace bagsplit::gates::detail {

/// A run as it is held against the list.
struct Slot {
  double level = 0.0, variance = 0.0;  ///< log of the time over what is usual, and of one run of a child
  double exists = 1.0;                 ///< P that it is a run
  double start_s = 0.0;
  std::size_t clock = 0;
};

/// A line of the list that is not marked absent.
struct ListLine {
  std::optional<double> start_s;  ///< typed start time, on the clock of the log
};

/// A child of the list, in its order: one line, or one in each of two rounds, or two in succession.
struct ListChild {
  std::optional<ListLine> first, second;
  bool try_after = false;  ///< a false start or the like of any child may stand after this one's first line
  double level = 0.0;      ///< expected log of the time, over what is usual on this list
  std::optional<double> level_sd = std::nullopt;  ///< none: nothing is known of this child
};

enum class ListOrder : std::uint8_t {
  single,  ///< children one after another, each with one line or two in succession
  rounds,  ///< all first lines, then all second ones, in the same order
};

/// What is assumed of lists and children. Assumed, no source; tests/gates tells what other values do.
struct ListRules {
  double no_show = 0.01;       ///< a line without a run
  double away = 0.01;          ///< a child without any run, where the list has two
  double no_show_told = 5e-5;  ///< the same where the list says that everybody ran
  double away_told = 5e-6;
  double extra = 1e-4;      ///< a run that no line has
  double swap = 0.002;      ///< two neighbours start in the other order
  double at_step = 0.30;    ///< a run cut by a step of the clock
  double typed_sd_s = 1.0;  ///< of typed start times
  double typed_wrong = 0.02;
  double tried = 0.3;      ///< a false start and the like is seen as a run
  std::size_t window = 6;  ///< two rounds: lines and runs out of step by at most this many, else by twice as many
};

struct ListProblem {
  std::vector<Slot> slots;
  std::vector<ListChild> children;
  ListOrder order = ListOrder::single;
  std::vector<std::pair<std::size_t, double>> hints;            ///< Chains::hints
  std::vector<std::pair<std::size_t, std::ptrdiff_t>> answers;  ///< slot, child; -1: nobody on the list
  double span_s = 60.0;                                         ///< of the log
  bool everybody_ran = false;
};

struct LineChances {
  std::size_t children = 0;
  std::vector<double> chance;  ///< slot x children
  double swapped = 0.0;        ///< of neighbours exchanged, the likeliest pair
  bool fits = false;           ///< some way to fit was found
  /// Of runs and the children they go to, mean log odds that the time is that child's and not anybody's: below 0 the
  /// list may be another group's. Only where something is known of the children; else 0.
  double mean_log_odds = 0.0;

  double at(std::size_t slot, std::size_t child) const { return chance[slot * children + child]; }
};

/// P(slot is a run of child), summed over all ways the list may fit the runs: lines without a run, runs of nobody,
/// neighbours exchanged. A child's two runs are weighed together. Forward-backward sums, no draws.
/// Cost: O(lines x slots); two rounds O(children x 13^3).
LineChances line_chances(const ListProblem& problem, const ListRules& rules = {});

}  // namespace bagsplit::gates::detail
