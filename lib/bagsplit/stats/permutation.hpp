#pragma once

#include <cstdint>
#include <optional>
#include <span>

/// Permutation tests of means: no assumption about shape, only that labels (or signs) could as well have fallen
/// otherwise.
///
/// All arrangements are counted where there are at most `exact_limit` of them; otherwise a random sample is, and the
/// p-value is (count + 1)/(samples + 1), which never claims more than the sample can show (Phipson & Smyth 2010). Ties
/// with the observed value count as extreme (within 1e-10 of the largest value, so that rounding cannot split them).
/// Small samples: with n pairs no two-sided p can be below 2/2^n; three pairs can show nothing below 0.25.
/// Source: Fisher (1935), The Design of Experiments; Pitman (1937), Suppl J R Stat Soc 4:119-130; Phipson & Smyth
/// (2010), Stat Appl Genet Mol Biol 9:39, doi:10.2202/1544-6115.1585.
namespace bagsplit::stats {

struct PermutationOptions {
  std::uint64_t exact_limit = 1'000'000;  ///< most arrangements to enumerate; 0 always samples
  std::uint64_t samples = 9'999;          ///< random arrangements otherwise
  std::uint64_t seed = 1;
  unsigned threads = 1;  ///< 0: all; the result does not depend on it
};

struct PermutationTest {
  double observed;  ///< mean difference
  bool exact;
  std::uint64_t arrangements;     ///< enumerated or sampled
  std::uint64_t count_two_sided;  ///< of them at least as far from 0
  std::uint64_t count_greater;    ///< at least as large
  std::uint64_t count_less;       ///< at most as large
  double p_two_sided;
  double p_greater;
  double p_less;
  std::uint64_t seed;  ///< as used; has no effect on an exact test
};

/// Paired: every difference x_i - y_i may change its sign. No pairs: none. One pair: p = 1.
std::optional<PermutationTest> paired_permutation_test(std::span<const double> x, std::span<const double> y,
                                                       const PermutationOptions& options = {});

/// Two groups: every way to deal the values into groups of these sizes; statistic mean(x) - mean(y). An empty group:
/// none.
std::optional<PermutationTest> two_sample_permutation_test(std::span<const double> x, std::span<const double> y,
                                                           const PermutationOptions& options = {});

}  // namespace bagsplit::stats
