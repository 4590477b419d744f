#include "bagsplit/stats/assignment.hpp"

#include <cstdint>
#include <limits>

#include "bagsplit/stats/detail/check.hpp"

namespace bagsplit::stats {

std::vector<std::size_t> cheapest_assignment(const Eigen::MatrixXd& cost) {
  if (cost.rows() != cost.cols()) {
    check::fail_call("cheapest_assignment", "the costs must be as many workers as tasks");
  }
  check::all_finite("cheapest_assignment", "cost", {cost.data(), static_cast<std::size_t>(cost.size())});
  const auto n = static_cast<std::size_t>(cost.rows());
  constexpr double inf = std::numeric_limits<double>::infinity();
  std::vector<double> u(n + 1, 0.0);
  std::vector<double> v(n + 1, 0.0);
  std::vector<std::size_t> worker_of(n + 1, 0);  // of task j, from 1; 0 none
  std::vector<std::size_t> way(n + 1, 0);
  for (std::size_t i = 1; i <= n; ++i) {
    worker_of[0] = i;
    std::size_t at = 0;
    std::vector<double> least(n + 1, inf);
    std::vector<std::uint8_t> used(n + 1, 0);
    do {
      used[at] = 1;
      std::size_t next = 0;
      double step = inf;
      for (std::size_t j = 1; j <= n; ++j) {
        if (used[j] != 0) {
          continue;
        }
        const double reduced = cost(static_cast<Eigen::Index>(worker_of[at] - 1), static_cast<Eigen::Index>(j - 1)) -
                               u[worker_of[at]] - v[j];
        if (reduced < least[j]) {
          least[j] = reduced;
          way[j] = at;
        }
        if (least[j] < step) {
          step = least[j];
          next = j;
        }
      }
      for (std::size_t j = 0; j <= n; ++j) {
        if (used[j] != 0) {
          u[worker_of[j]] += step;
          v[j] -= step;
        } else {
          least[j] -= step;
        }
      }
      at = next;
    } while (worker_of[at] != 0);
    for (; at != 0; at = way[at]) {
      worker_of[at] = worker_of[way[at]];
    }
  }
  std::vector<std::size_t> out;
  for (std::size_t j = 1; j <= n; ++j) {
    out.push_back(worker_of[j] - 1);
  }
  return out;
}

}  // namespace bagsplit::stats
