#pragma once

#include <Eigen/Core>
#include <cstddef>
#include <vector>

namespace bagsplit::stats {

/// Whom to give which task for the lowest sum of costs: the linear assignment problem, by shortest augmenting paths.
/// Equal sums go to the assignment found first: the same for the same costs.
/// @param cost  workers x tasks, square, finite.   @return the worker of each task.   Cost: O(n^3).
/// @throws std::invalid_argument for a matrix that is not square, std::domain_error for a cost that is not finite.
/// Source: Kuhn (1955), Naval Research Logistics Quarterly 2:83-97; potentials as in Jonker & Volgenant (1987),
/// Computing 38:325-340.
std::vector<std::size_t> cheapest_assignment(const Eigen::MatrixXd& cost);

}  // namespace bagsplit::stats
