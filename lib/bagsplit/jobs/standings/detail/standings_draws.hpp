// Joint draws of what players are ordered by. Not installed.
#pragma once

#include <cstdint>
#include <span>
#include <vector>

#include "bagsplit/jobs/standings/detail/standings_players.hpp"

namespace bagsplit::jobs::detail {

/// Draws of every part of every player: value of part k of player i in draw d at [(i * parts + k) * draws + d].
///
/// A draw takes a point of the squad's design (as often as its weight says), one value of everything shared, and of
/// each player the own part; each part has just the distribution of its estimate, by its three quantiles
/// (QuantileCurve), and the normal scores hang together as the posterior's covariances say: a Gaussian copula. Player i
/// has a stream of random numbers of its own, so the answer does not depend on the number of threads.
/// @param beliefs  of ranked players, each with a point for each of the squad's.
std::vector<double> joint_draws(const inference::SquadFit& fit, std::span<const Belief* const> beliefs,
                                std::size_t parts, std::size_t draws, std::uint64_t seed, unsigned threads);

}  // namespace bagsplit::jobs::detail
