#pragma once

#include <string>

#include "bagsplit/jobs/relay/relay.hpp"
#include "input.hpp"
#include "invocation.hpp"

/// The running orders to look ahead to: options that relays and their report share.
namespace bagsplit::cli {

void declare_relay_orders(Options& app, RelayRequest& request);

/// What is wrong with them; empty when nothing is.
std::string wrong_relay_orders(const RelayRequest& request);

/// @param request  wrong_relay_orders() has nothing to say.
jobs::RelayOptions relay_options(const RelayRequest& request, const Inputs& inputs);

}  // namespace bagsplit::cli
