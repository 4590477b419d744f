#include "bagsplit/stats/random.hpp"

#include <algorithm>
#include <atomic>
#include <cmath>
#include <exception>
#include <mutex>
#include <thread>
#include <vector>
#include <version>

#include "bagsplit/stats/detail/check.hpp"

namespace bagsplit::stats {

namespace {

std::uint64_t split_mix(std::uint64_t x) {
  x += 0x9e3779b97f4a7c15ULL;
  x = (x ^ (x >> 30)) * 0xbf58476d1ce4e5b9ULL;
  x = (x ^ (x >> 27)) * 0x94d049bb133111ebULL;
  return x ^ (x >> 31);
}

}  // namespace

RandomStream::RandomStream(std::uint64_t seed, std::uint64_t index)
    : engine_(split_mix(split_mix(seed) ^ split_mix(~index))) {}

std::size_t RandomStream::below(std::size_t n) {
  constexpr std::uint64_t most = std::uint64_t{1} << 32;
  const std::uint64_t size = n;
  if (size == 0 || size > most) {
    check::fail("RandomStream::below", "n", static_cast<double>(n), "at least 1 and at most 2^32");
  }
  // A multiply by n of 32 random bits; the low half tells the few draws that would favour some values.
  const std::uint64_t reject = most % size;
  for (;;) {
    const std::uint64_t product = (engine_() >> 32) * size;
    if ((product & 0xffffffffULL) >= reject) {
      return static_cast<std::size_t>(product >> 32);
    }
  }
}

double RandomStream::normal() {
  if (spare_) {
    const double value = *spare_;
    spare_.reset();
    return value;
  }
  for (;;) {
    const double u = 2.0 * open_uniform() - 1.0;
    const double v = 2.0 * open_uniform() - 1.0;
    const double s = u * u + v * v;
    if (s > 0.0 && s < 1.0) {
      const double factor = std::sqrt(-2.0 * std::log(s) / s);
      spare_ = v * factor;
      return u * factor;
    }
  }
}

namespace {

void one_by_one(std::size_t count, const std::function<void(std::size_t)>& work) {
  for (std::size_t i = 0; i < count; ++i) {
    work(i);
  }
}

}  // namespace

#ifdef __cpp_lib_jthread

void for_each_index(std::size_t count, unsigned threads, const std::function<void(std::size_t)>& work) {
  if (threads == 0) {
    threads = std::max(1u, std::thread::hardware_concurrency());
  }
  threads = static_cast<unsigned>(std::min<std::size_t>(threads, count));
  if (threads <= 1) {
    return one_by_one(count, work);
  }
  std::atomic<std::size_t> next{0};
  std::mutex mutex;
  std::exception_ptr error;
  std::size_t error_index = count;
  {
    std::vector<std::jthread> workers;
    for (unsigned t = 0; t < threads; ++t) {
      workers.emplace_back([&] {
        for (std::size_t i = next++; i < count; i = next++) {
          try {
            work(i);
          } catch (...) {
            const std::scoped_lock lock(mutex);
            if (i < error_index) {
              error_index = i;
              error = std::current_exception();
            }
          }
        }
      });
    }
  }
  if (error) {
    std::rethrow_exception(error);
  }
}

#else  // a library without threads: all on the calling one

void for_each_index(std::size_t count, unsigned, const std::function<void(std::size_t)>& work) {
  one_by_one(count, work);
}

#endif

}  // namespace bagsplit::stats
