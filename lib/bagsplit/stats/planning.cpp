#include "bagsplit/stats/planning.hpp"

#include <cmath>

#include "bagsplit/stats/detail/check.hpp"
#include "bagsplit/stats/distributions.hpp"

namespace bagsplit::stats {

namespace {

constexpr double largest_size = 1e6;

/// Smallest whole n in [lo, 1e6] for which `enough` holds; `enough` must stay true once it is.
template <class Enough>
std::optional<std::size_t> smallest(double lo, const Enough& enough) {
  if (enough(lo)) {
    return static_cast<std::size_t>(lo);
  }
  double hi = lo;
  do {
    lo = hi;
    if (hi >= largest_size) {
      return std::nullopt;
    }
    hi = std::fmin(std::floor(2.0 * hi), largest_size);
  } while (!enough(hi));
  while (hi - lo > 1.0) {
    const double middle = std::floor(0.5 * (lo + hi));
    (enough(middle) ? hi : lo) = middle;
  }
  return static_cast<std::size_t>(hi);
}

}  // namespace

double t_half_width(std::size_t n, double sd, double level) {
  if (n < 2) {
    check::fail("t_half_width", "n", static_cast<double>(n), "at least 2");
  }
  check::not_negative("t_half_width", "sd", sd);
  check::open_unit("t_half_width", "level", level);
  const double nd = static_cast<double>(n);
  return student_t_quantile(0.5 + 0.5 * level, nd - 1.0) * sd / std::sqrt(nd);
}

std::optional<std::size_t> size_for_half_width(double half_width, double sd, double level) {
  check::positive("size_for_half_width", "half_width", half_width);
  return smallest(2.0, [&](double n) { return t_half_width(static_cast<std::size_t>(n), sd, level) <= half_width; });
}

}  // namespace bagsplit::stats
