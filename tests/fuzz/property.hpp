#pragma once

#include <cstdint>
#include <cstdio>
#include <cstdlib>
#include <string_view>

namespace bagsplit::fuzz {

/// Ends the program where a property does not hold: the fuzzer then keeps the input.
inline void hold(bool property, const char* what) {
  if (!property) {
    std::fprintf(stderr, "property broken: %s\n", what);
    std::abort();
  }
}

inline std::string_view text_of(const std::uint8_t* data, std::size_t size) {
  return {reinterpret_cast<const char*>(data), size};  // NOLINT: the entry point's type
}

}  // namespace bagsplit::fuzz
