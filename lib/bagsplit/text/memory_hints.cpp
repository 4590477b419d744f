#include "bagsplit/text/memory_hints.hpp"

#include <memory>

#if defined(__linux__)
#include <sys/mman.h>
#endif

namespace bagsplit::text::detail {

void hint_large_pages([[maybe_unused]] void* memory, [[maybe_unused]] std::size_t bytes) {
#if defined(__linux__) && defined(MADV_HUGEPAGE)
  // A million rows are 70,000 pages of 4 KiB. Getting each on first use took a third of the reader's time.
  constexpr std::size_t page = std::size_t{1}
                               << 21U;  // 2 MiB: x86-64, arm64; elsewhere the hint may fail, and does no harm
  constexpr std::size_t least_pages = 2;
  if (std::align(page, least_pages * page, memory, bytes) != nullptr) {
    static_cast<void>(madvise(memory, bytes / page * page, MADV_HUGEPAGE));
  }
#endif
}

}  // namespace bagsplit::text::detail
