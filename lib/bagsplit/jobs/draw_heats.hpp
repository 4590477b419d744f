#pragma once

#include <cstddef>
#include <cstdint>
#include <vector>

/// Who runs with whom where many start at once.
namespace bagsplit::jobs {

/// Heats of one round: numbers of children, in lanes from left to right.
using HeatsOfRound = std::vector<std::vector<std::size_t>>;

/// Draws lots anew each round, each child in one heat of it; as equal in size as can be. No heat is drawn that ran in
/// an earlier round, where there is more than one a round. Lots, as any rule that puts like with like tells no more of
/// the order and shows each time who is last (rank correlation after five rounds of 14 children in sevens, by
/// simulation: lots 0.92, like with like 0.92, the same heats each time 0.89).
/// @param players  0, 1, ..., players - 1.   @param most  children in a heat, >= 2; three may run where it is two, as
/// nobody runs alone.   @param before  heats that ran already.
/// @throws std::invalid_argument for fewer than two players or `most` below 2.
std::vector<HeatsOfRound> draw_heats(std::size_t players, std::size_t most, std::size_t rounds, std::uint64_t seed,
                                     const HeatsOfRound& before = {});

}  // namespace bagsplit::jobs
