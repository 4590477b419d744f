#pragma once

namespace bagsplit::stats {

/// A closed interval. Every function that returns one says at what level and of what kind (two-sided, equal tails).
struct Interval {
  double lo;
  double hi;

  double half_width() const { return 0.5 * (hi - lo); }
  bool contains(double value) const { return lo <= value && value <= hi; }
  friend bool operator==(const Interval&, const Interval&) = default;
};

}  // namespace bagsplit::stats
