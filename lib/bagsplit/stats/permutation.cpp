#include "bagsplit/stats/permutation.hpp"

#include <algorithm>
#include <cmath>
#include <vector>

#include "bagsplit/stats/check.hpp"
#include "bagsplit/stats/random.hpp"
#include "bagsplit/stats/univariate.hpp"

namespace bagsplit::stats {

namespace {

constexpr std::uint64_t samples_a_block = 1024;  // samples to a random stream

struct Counts {
  std::uint64_t two_sided = 0;
  std::uint64_t greater = 0;
  std::uint64_t less = 0;

  void add(double value, double observed, double tolerance) {
    two_sided += std::fabs(value) >= std::fabs(observed) - tolerance;
    greater += value >= observed - tolerance;
    less += value <= observed + tolerance;
  }
};

PermutationTest result(double observed, bool exact, std::uint64_t arrangements, const Counts& counts,
                       std::uint64_t seed) {
  const double extra = exact ? 0.0 : 1.0;
  const double total = static_cast<double>(arrangements) + extra;
  const auto p = [&](std::uint64_t count) { return (static_cast<double>(count) + extra) / total; };
  return {observed,       exact,       arrangements,        counts.two_sided,
          counts.greater, counts.less, p(counts.two_sided), p(counts.greater),
          p(counts.less), seed};
}

/// Counts over random arrangements: one stream a block, summed in order of blocks.
template <class Draw>
Counts sample(const PermutationOptions& options, double observed, double tolerance, const Draw& draw) {
  const std::uint64_t blocks = (options.samples + samples_a_block - 1) / samples_a_block;
  std::vector<Counts> parts(blocks);
  for_each_index(blocks, options.threads, [&](std::size_t b) {
    RandomStream random(options.seed, b);
    const std::uint64_t here = std::min(samples_a_block, options.samples - b * samples_a_block);
    auto draw_one = draw();
    for (std::uint64_t i = 0; i < here; ++i) {
      parts[b].add(draw_one(random), observed, tolerance);
    }
  });
  Counts total;
  for (const auto& part : parts) {
    total.two_sided += part.two_sided;
    total.greater += part.greater;
    total.less += part.less;
  }
  return total;
}

/// C(n, k), or none beyond `limit`.
std::optional<std::uint64_t> combinations(std::uint64_t n, std::uint64_t k, std::uint64_t limit) {
  k = std::min(k, n - k);
  double size = 1.0;
  for (std::uint64_t i = 1; i <= k; ++i) {
    size = size * static_cast<double>(n - k + i) / static_cast<double>(i);
    if (size > static_cast<double>(limit) + 0.5) {
      return std::nullopt;
    }
  }
  return static_cast<std::uint64_t>(std::llround(size));
}

/// Sums of all k-subsets of `values`, each added up from the left.
template <class Visit>
void each_subset_sum(const std::vector<double>& values, std::size_t k, const Visit& visit) {
  const std::size_t n = values.size();
  std::vector<std::size_t> chosen(k);
  std::vector<double> partial(k + 1, 0.0);
  for (std::size_t i = 0; i < k; ++i) {
    chosen[i] = i;
    partial[i + 1] = partial[i] + values[i];
  }
  for (;;) {
    visit(partial[k]);
    std::size_t i = k;
    while (i > 0 && chosen[i - 1] == n - k + i - 1) {
      --i;
    }
    if (i == 0) {
      return;
    }
    ++chosen[i - 1];
    partial[i] = partial[i - 1] + values[chosen[i - 1]];
    for (std::size_t j = i; j < k; ++j) {
      chosen[j] = chosen[j - 1] + 1;
      partial[j + 1] = partial[j] + values[chosen[j]];
    }
  }
}

void check_samples(const PermutationOptions& options) {
  if (options.samples == 0) {
    check::fail("permutation_test", "options.samples", 0.0, "at least 1");
  }
}

}  // namespace

std::optional<PermutationTest> paired_permutation_test(std::span<const double> x, std::span<const double> y,
                                                       const PermutationOptions& options) {
  const auto d = check::differences("paired_permutation_test", x, y);
  check_samples(options);
  if (d.empty()) {
    return std::nullopt;
  }
  const std::size_t n = d.size();
  double largest = 0.0;
  for (const double v : d) {
    largest = std::fmax(largest, std::fabs(v));
  }
  const double observed = sum(d);
  const double tolerance = 1e-10 * largest;
  const bool exact = n < 63 && (std::uint64_t{1} << n) <= options.exact_limit;
  Counts counts;
  std::uint64_t arrangements = options.samples;
  if (exact) {
    arrangements = std::uint64_t{1} << n;
    for (std::uint64_t signs = 0; signs < arrangements; ++signs) {
      double total = 0.0;
      for (std::size_t i = 0; i < n; ++i) {
        total += (signs >> i & 1u) != 0 ? -d[i] : d[i];
      }
      counts.add(total, observed, tolerance);
    }
  } else {
    counts = sample(options, observed, tolerance, [&] {
      return [&](RandomStream& random) {
        double total = 0.0;
        std::uint64_t bits = 0;
        for (std::size_t i = 0; i < n; ++i) {
          if (i % 64 == 0) {
            bits = random.bits();
          }
          total += (bits >> (i % 64) & 1u) != 0 ? -d[i] : d[i];
        }
        return total;
      };
    });
  }
  return result(observed / static_cast<double>(n), exact, arrangements, counts, options.seed);
}

std::optional<PermutationTest> two_sample_permutation_test(std::span<const double> x, std::span<const double> y,
                                                           const PermutationOptions& options) {
  check::all_finite("two_sample_permutation_test", "x", x);
  check::all_finite("two_sample_permutation_test", "y", y);
  check_samples(options);
  if (x.empty() || y.empty()) {
    return std::nullopt;
  }
  // With the common mean taken off, the difference of means is sum(x) (1/n1 + 1/n2): one sum tells all.
  std::vector<double> all(x.begin(), x.end());
  all.insert(all.end(), y.begin(), y.end());
  const Wide m = wide_mean(all);
  double largest = 0.0;
  for (double& v : all) {
    v = (v - m.hi) - m.lo;
    largest = std::fmax(largest, std::fabs(v));
  }
  const std::size_t n1 = x.size();
  const double scale = 1.0 / static_cast<double>(n1) + 1.0 / static_cast<double>(y.size());
  const double observed = sum(std::span(all).first(n1));
  const double tolerance = 1e-10 * largest;
  const auto splits = combinations(all.size(), n1, options.exact_limit);
  Counts counts;
  if (splits) {
    each_subset_sum(all, n1, [&](double total) { counts.add(total, observed, tolerance); });
    return result(observed * scale, true, *splits, counts, options.seed);
  }
  counts = sample(options, observed, tolerance, [&] {
    return [&, deck = all](RandomStream& random) mutable {
      double total = 0.0;
      for (std::size_t i = 0; i < n1; ++i) {
        std::swap(deck[i], deck[i + random.below(deck.size() - i)]);
        total += deck[i];
      }
      return total;
    };
  });
  return result(observed * scale, false, options.samples, counts, options.seed);
}

}  // namespace bagsplit::stats
