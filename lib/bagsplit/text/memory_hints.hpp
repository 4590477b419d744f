#pragma once

#include <cstddef>
#include <vector>

/// Inside the reader: what a program may tell the machine about memory it is going to use. Hints for speed, without
/// effect where they are not understood.
namespace bagsplit::text::detail {

/// Memory about to be filled for the first time may come in large pages.
void hint_large_pages(void* memory, std::size_t bytes);

/// As reserve(), for a vector that may become large.
template <typename T>
void reserve_large(std::vector<T>& values, std::size_t count) {
  if (values.capacity() < count) {
    values.reserve(count);
    hint_large_pages(values.data() + values.size(), (values.capacity() - values.size()) * sizeof(T));
  }
}

/// An object will soon be read.
template <typename T>
void hint_soon([[maybe_unused]] const T& object) {
#if defined(__GNUC__)
  __builtin_prefetch(&object);
#endif
}

}  // namespace bagsplit::text::detail
