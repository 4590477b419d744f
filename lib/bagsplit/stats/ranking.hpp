#pragma once

#include <cstddef>
#include <limits>
#include <span>
#include <vector>

namespace bagsplit::stats {

enum class Best : bool { lowest, highest };

/// Places of n candidates over joint draws.
struct Ranking {
  std::vector<double> p_in_cut;          ///< P(rank <= cut)
  std::vector<double> expected_rank;     ///< 1 is best; equal values share the mean of their places
  std::vector<double> rank_lo, rank_hi;  ///< equal-tailed interval of the rank
  std::vector<std::size_t> tier;         ///< from 1; see rank_draws()
  std::vector<std::size_t> order;        ///< candidates by expected rank, then as given
};

/// @param values  n x draws, row-major, finite: all candidates of one draw belong together.
/// @param cut     0 <= cut <= n; candidates tied across the line share its places evenly.
/// @param level   a tier ends before the first candidate whom its leader beats with at least this probability.
/// @param interval  probability of the intervals of ranks.
/// Standard error of a probability p: sqrt(p (1 - p) / draws). Cost: O(n log n) a draw.
/// @throws std::invalid_argument for sizes, std::domain_error for a value that is not finite or a level outside (0, 1).
Ranking rank_draws(std::span<const double> values, std::size_t n, std::size_t cut, Best best, double level,
                   double interval = 0.9);

/// A share of draws as a probability: never nearer to 0 or 1 than so many draws can show, 3 / draws. Where no draw of n
/// shows an event, its probability is below that with 95% confidence: (1 - 3 / n)^n = exp(-3).
double shown_by_draws(double share, std::size_t draws);

/// A candidate whose quantity is believed N(mean, sd^2); one more run reads it with SD run_sd, but for a part of SD
/// floor_sd that no further run now would tell (the form of the day, a timer's bias).
struct Candidate {
  double mean = 0.0;
  double sd = 0.0;        ///< > 0, may be infinite: nothing known but the mean
  double run_sd = 0.0;    ///< > 0
  double floor_sd = 0.0;  ///< 0 <= floor_sd <= sd
};

/// The cut line between the best `cut` and the rest: midway between the means on either side.
/// @throws std::invalid_argument unless 0 < cut < n.
double cut_line(std::span<const Candidate> candidates, std::size_t cut, Best best);

/// Expected number of candidates put on the wrong side of `line` after more[i] runs each: the sum of the probabilities
/// that truth and believed mean, after the runs, lie on different sides,
///   2 T(|mean - line| / sd, s / sqrt(sd^2 - s^2)),   s^2 = floor_sd^2 + 1/(1/(sd^2 - floor_sd^2) + more_i /
///   run_sd_i^2),
/// T Owen's function; Phi(-|mean - line| / sd) without runs. With an infinite sd, where only the mean is known, the
/// mean stays: Phi(-|mean - line| / s). An empty `more` is none. Source: Owen (1956), Ann Math Stat 27:1075-1090, for
/// the bivariate normal by T.
double expected_wrong_cuts(std::span<const Candidate> candidates, double line, std::span<const std::size_t> more);

/// How many of `budget` further runs each candidate should get so that expected_wrong_cuts() becomes small.
///
/// Runs go one by one to whoever lowers it most. With infinite sds the summands are convex, this is the optimum, and as
/// the budget grows the numbers tend to the published ratio law, more_i ~ (run_sd_i / (mean_i - line))^2. With finite
/// sds it differs from the law: a mean near the line may move, so those runs are worth something at once. Ties go to
/// the first. Runs that nobody may have any more are not given. Cost: one T a run and a candidate.
/// @param most_each  runs one candidate may get.
/// Source: Chen, He, Fu & Lee (2008), INFORMS J Comput 20:579-595, doi:10.1287/ijoc.1080.0268 (the ratio law).
std::vector<std::size_t> allocate_runs(std::span<const Candidate> candidates, double line, std::size_t budget,
                                       std::size_t most_each = std::numeric_limits<std::size_t>::max());

/// The law itself: shares of a large budget, proportional to (run_sd / (mean - line))^2, sum 1.
/// @throws std::domain_error for a mean on the line.
std::vector<double> ratio_law(std::span<const Candidate> candidates, double line);

}  // namespace bagsplit::stats
