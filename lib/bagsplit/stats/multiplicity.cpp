#include "bagsplit/stats/multiplicity.hpp"

#include <algorithm>
#include <numeric>
#include <string>

#include "bagsplit/stats/detail/check.hpp"

namespace bagsplit::stats {

std::vector<double> adjusted_p_values(std::span<const double> p, Adjustment method) {
  for (std::size_t i = 0; i < p.size(); ++i) {
    if (!(p[i] >= 0.0 && p[i] <= 1.0)) {
      check::fail("adjusted_p_values", "p[" + std::to_string(i) + "]", p[i], "between 0 and 1");
    }
  }
  const std::size_t m = p.size();
  const double md = static_cast<double>(m);
  std::vector<std::size_t> order(m);
  std::iota(order.begin(), order.end(), std::size_t{0});
  std::stable_sort(order.begin(), order.end(), [&](std::size_t a, std::size_t b) { return p[a] < p[b]; });

  double harmonic = 0.0;
  for (std::size_t i = 1; i <= m; ++i) {
    harmonic += 1.0 / static_cast<double>(i);
  }
  // Factor of the p-value of rank r (from 0, smallest first).
  const auto factor = [&](std::size_t r) {
    const double rank = static_cast<double>(r + 1);
    switch (method) {
      case Adjustment::bonferroni:
        return md;
      case Adjustment::holm:
      case Adjustment::hochberg:
        return md - rank + 1.0;
      case Adjustment::bh:
        return md / rank;
      case Adjustment::by:
        return md * harmonic / rank;
    }
    return md;
  };
  std::vector<double> adjusted(m);
  if (method == Adjustment::holm || method == Adjustment::bonferroni) {  // step down: never below the one before
    double running = 0.0;
    for (std::size_t r = 0; r < m; ++r) {
      running = std::max(running, std::min(1.0, factor(r) * p[order[r]]));
      adjusted[order[r]] = running;
    }
  } else {  // step up: never above the one after
    double running = 1.0;
    for (std::size_t r = m; r-- > 0;) {
      running = std::min(running, factor(r) * p[order[r]]);
      adjusted[order[r]] = running;
    }
  }
  return adjusted;
}

std::size_t count_rejected(std::span<const double> adjusted, double alpha) {
  return static_cast<std::size_t>(
      std::count_if(adjusted.begin(), adjusted.end(), [&](double v) { return v <= alpha; }));
}

}  // namespace bagsplit::stats
