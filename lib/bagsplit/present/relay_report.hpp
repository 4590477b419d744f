#pragma once

#include <string>

#include "bagsplit/coach/relay.hpp"
#include "bagsplit/present/display.hpp"

/// Relays for people and for programs.
namespace bagsplit::present {

std::string relay_text(const coach::RelayResult& result, const TextOptions& options);

/// One row a leg (`what` is leg), then one a team looked ahead to (expected): its total and its probability to win.
std::string relay_csv(const coach::RelayResult& result);

/// Schema "bagsplit.relay/1" (data/schemas/relay.schema.json).
std::string relay_json(const coach::RelayResult& result);

}  // namespace bagsplit::present
