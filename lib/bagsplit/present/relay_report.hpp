#pragma once

#include <string>
#include <vector>

#include "bagsplit/jobs/relay/relay.hpp"
#include "bagsplit/text/display.hpp"

/// Relays for people and for programs.
namespace bagsplit::present {

std::string relay_text(const jobs::RelayResult& result, const text::TextOptions& options);

/// What all relays say together, for text and page: who takes off late, side or team.
std::vector<std::string> relay_season_sentences(const jobs::RelayResult& result);

/// Who would win were the sides swapped, and how often; empty where there are none to swap.
std::string sides_swapped_sentence(const jobs::RelayResult& result);

/// One row a leg (`what` is leg), then one a team looked ahead to (expected, and swapped for
/// the sides swapped): its total and its probability to win.
std::string relay_csv(const jobs::RelayResult& result);

/// Schema "bagsplit.relay/1" (data/schemas/relay.schema.json).
std::string relay_json(const jobs::RelayResult& result);

}  // namespace bagsplit::present
