#include "bagsplit/runs/large_pages.hpp"

#include <cstdint>

#if defined(__linux__)
#include <sys/mman.h>
#endif

namespace bagsplit::runs::detail {

void hint_large_pages([[maybe_unused]] void* memory, [[maybe_unused]] std::size_t bytes) {
#if defined(__linux__) && defined(MADV_HUGEPAGE)
  // A million rows are 80,000 pages of 4 KiB. Getting each on first use took a third of the reader's time.
  constexpr std::uintptr_t page = std::uintptr_t{1} << 21U;  // 2 MiB: x86-64, arm64; elsewhere the hint may fail, and does no harm
  constexpr std::size_t least_pages = 2;
  const auto begin = (reinterpret_cast<std::uintptr_t>(memory) + page - 1) / page * page;
  const auto end = (reinterpret_cast<std::uintptr_t>(memory) + bytes) / page * page;
  if (begin < end && end - begin >= least_pages * page) {
    static_cast<void>(madvise(reinterpret_cast<void*>(begin), end - begin, MADV_HUGEPAGE));
  }
#endif
}

}  // namespace bagsplit::runs::detail
