#pragma once

#include <algorithm>
#include <bit>
#include <cstddef>
#include <cstdint>
#include <vector>

/// Inside the reader: which item of a list was the first of its kind.
namespace bagsplit::text::detail {

/// Spreads a number over 64 bits and adds it to a hash.
constexpr std::uint64_t hash_on(std::uint64_t hash, std::uint64_t part) {
  hash = (hash ^ part) * 0x9E3779B97F4A7C15ULL;
  return hash ^ (hash >> 32U);
}

/// A hash table of item numbers, made to be filled anew for each of many short lists: it keeps its memory, and items of
/// an older round count as gone.
class FirstSeen {
 public:
  static constexpr std::uint32_t none = 0xFFFFFFFFU;

  /// Forgets all items; makes room for `most` of them.
  void start(std::size_t most) {
    const std::size_t size = std::bit_ceil(std::max<std::size_t>(16, 2 * most));
    if (slots_.size() < size || ++round_ == 0) {
      slots_.assign(std::max(size, slots_.size()), {});
      round_ = 1;
    }
    mask_ = size - 1;
  }

  /// The first item of the kind of `item`, which is `item` itself when it is new.
  /// @param same  whether an item that is here is of that kind; asked where the hashes are the same in 32 bits.
  template <typename Same>
  std::uint32_t first_of(std::uint64_t hash, std::uint32_t item, const Same& same) {
    Slot& slot = slot_of(hash, same);
    if (slot.round != round_) {
      slot = {round_, tag_of(hash), item};
    }
    return slot.item;
  }

  template <typename Same>
  bool contains(std::uint64_t hash, const Same& same) {
    return slot_of(hash, same).round == round_;
  }

 private:
  struct Slot {
    std::uint32_t round = 0;
    std::uint32_t tag = 0;
    std::uint32_t item = none;
  };

  static std::uint32_t tag_of(std::uint64_t hash) { return static_cast<std::uint32_t>(hash >> 32U); }

  // The slot of that kind, or the empty one where it belongs.
  template <typename Same>
  Slot& slot_of(std::uint64_t hash, const Same& same) {
    for (std::size_t at = static_cast<std::size_t>(hash) & mask_;; at = (at + 1) & mask_) {
      Slot& slot = slots_[at];
      if (slot.round != round_ || (slot.tag == tag_of(hash) && same(slot.item))) {
        return slot;
      }
    }
  }

  std::vector<Slot> slots_;
  std::uint32_t round_ = 0;
  std::size_t mask_ = 0;
};

}  // namespace bagsplit::text::detail
