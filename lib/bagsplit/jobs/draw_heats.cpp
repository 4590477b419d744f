#include "bagsplit/jobs/draw_heats.hpp"

#include <algorithm>
#include <numeric>
#include <set>
#include <stdexcept>
#include <string>

#include "bagsplit/stats/random.hpp"

namespace bagsplit::jobs {

namespace {

constexpr int most_draws = 100;  // of a round, where heats come out as before; then the last one stays

HeatsOfRound one_draw(std::size_t players, std::size_t heats, stats::RandomStream& random) {
  std::vector<std::size_t> order(players);
  std::iota(order.begin(), order.end(), std::size_t{0});
  for (std::size_t k = players; k > 1; --k) {
    std::swap(order[k - 1], order[random.below(k)]);
  }
  HeatsOfRound out(heats);
  for (std::size_t k = 0; k < players; ++k) {
    out[k % heats].push_back(order[k]);
  }
  return out;
}

}  // namespace

std::vector<HeatsOfRound> draw_heats(std::size_t players, std::size_t most, std::size_t rounds, std::uint64_t seed,
                                     const HeatsOfRound& before) {
  if (players < 2 || most < 2) {
    throw std::invalid_argument("draw_heats: players and most must be 2 or more, but are " + std::to_string(players) +
                                " and " + std::to_string(most));
  }
  const std::size_t heats = std::clamp<std::size_t>((players + most - 1) / most, 1, players / 2);
  std::set<std::set<std::size_t>> ran;
  for (const auto& heat : before) {
    ran.emplace(heat.begin(), heat.end());
  }
  stats::RandomStream random(seed);
  std::vector<HeatsOfRound> out;
  for (std::size_t round = 0; round < rounds; ++round) {
    HeatsOfRound drawn = one_draw(players, heats, random);
    const auto as_before = [&] {
      return std::any_of(drawn.begin(), drawn.end(), [&](const auto& heat) {
        return ran.contains(std::set<std::size_t>(heat.begin(), heat.end()));
      });
    };
    for (int again = 1; heats > 1 && again < most_draws && as_before(); ++again) {
      drawn = one_draw(players, heats, random);
    }
    for (const auto& heat : drawn) {
      ran.emplace(heat.begin(), heat.end());
    }
    out.push_back(std::move(drawn));
  }
  return out;
}

}  // namespace bagsplit::jobs
