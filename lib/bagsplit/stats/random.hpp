#pragma once

#include <cstddef>
#include <cstdint>
#include <functional>
#include <optional>
#include <random>
#include <utility>

namespace bagsplit::stats {

/// Random numbers that are the same on every machine and for every number of threads.
///
/// The engine is std::mt19937_64 (fixed by the C++ standard), seeded from (seed, index) by two rounds of SplitMix64, so
/// that each index of a parallel loop has a stream of its own. The conversions are our own: those of the standard
/// library differ between implementations. Source: Matsumoto & Nishimura (1998), ACM TOMACS 8:3-30; Steele, Lea & Flood
/// (2014), OOPSLA 49:453-472, for SplitMix64; Marsaglia & Bray (1964), SIAM Rev 6:260-264, for the normal; Lemire
/// (2019), ACM TOMACS 29:3, for whole numbers.
class RandomStream {
 public:
  explicit RandomStream(std::uint64_t seed, std::uint64_t index = 0);

  std::uint64_t bits() { return engine_(); }
  /// Uniform on [0, 1), a multiple of 2^-53.
  double uniform() { return static_cast<double>(engine_() >> 11) * 0x1.0p-53; }
  /// Uniform on (0, 1), never 0 or 1.
  double open_uniform() { return (static_cast<double>(engine_() >> 12) + 0.5) * 0x1.0p-52; }
  /// Uniform on 0, 1, ..., n - 1, without bias.  @throws std::domain_error for n = 0 or n > 2^32.
  std::size_t below(std::size_t n);
  double normal();  ///< standard normal, polar method

 private:
  std::mt19937_64 engine_;
  std::optional<double> spare_;
};

/// Calls work(i) for i = 0 .. count - 1 on `threads` threads (0: as many as the machine has; 1: on the calling thread).
/// Order of the calls is not fixed, so results belong in a slot of their index. The first exception, by index, is
/// rethrown.
void for_each_index(std::size_t count, unsigned threads, const std::function<void(std::size_t)>& work);

}  // namespace bagsplit::stats
