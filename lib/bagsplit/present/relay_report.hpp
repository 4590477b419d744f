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

/// One row a leg (`what` is leg), then one a team looked ahead to (expected): its total and its probability to win.
std::string relay_csv(const jobs::RelayResult& result);

/// Schema "bagsplit.relay/1" (data/schemas/relay.schema.json).
std::string relay_json(const jobs::RelayResult& result);

}  // namespace bagsplit::present
