// Any bytes as a roster.
#include "bagsplit/runs/roster/roster.hpp"
#include "fuzz/property.hpp"

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  using namespace bagsplit;
  const runs::RosterResult read = runs::read_roster(fuzz::text_of(data, size), "roster.csv");
  if (!text::has_errors(read.problems)) {
    for (const runs::Player& player : read.roster.players) {
      fuzz::hold(read.roster.find(player.id) == &player, "each player is found by the id");
    }
  }
  return 0;
}
