#include "bagsplit/stats/moments.hpp"

#include "bagsplit/stats/univariate.hpp"

namespace bagsplit::stats {

Moments Moments::of(std::span<const double> values) {
  if (values.empty()) {
    return {};
  }
  const Wide mean = wide_mean(values);
  return {values.size(), mean.hi, sum_of_squares_about(values, mean)};
}

void Moments::merge(const Moments& other) {
  if (other.count == 0) {
    return;
  }
  if (count == 0) {
    *this = other;
    return;
  }
  const double mine = static_cast<double>(count);
  const double theirs = static_cast<double>(other.count);
  const double apart = other.mean - mean;
  squares += other.squares + apart * apart * mine * theirs / (mine + theirs);
  mean += apart * theirs / (mine + theirs);
  count += other.count;
}

std::optional<double> Moments::variance() const {
  return count < 2 ? std::nullopt : std::optional(squares / static_cast<double>(count - 1));
}

}  // namespace bagsplit::stats
