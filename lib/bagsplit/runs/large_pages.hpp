#pragma once

#include <cstddef>
#include <vector>

/// Inside the reader: room for many values, in large pages where the system has them.
namespace bagsplit::runs::detail {

/// Says that memory about to be filled for the first time may come in large pages. Only a hint for speed: an operating system that
/// knows none, or has them switched off, goes on as before.
void hint_large_pages(void* memory, std::size_t bytes);

/// As reserve(), for a vector that may become large.
template <typename T>
void reserve_large(std::vector<T>& values, std::size_t count) {
  if (values.capacity() < count) {
    values.reserve(count);
    hint_large_pages(values.data() + values.size(), (values.capacity() - values.size()) * sizeof(T));
  }
}

}  // namespace bagsplit::runs::detail
