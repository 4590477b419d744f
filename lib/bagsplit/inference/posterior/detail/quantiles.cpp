#include "bagsplit/inference/posterior/detail/quantiles.hpp"

#include <stdexcept>

#include "bagsplit/stats/distributions.hpp"

namespace bagsplit::inference {

Levels levels_of(double level) {
  if (!(level > 0.0) || !(level < 1.0)) {
    throw std::domain_error("level must lie strictly between 0 and 1");
  }
  const double tail = 0.5 * (1.0 - level);
  const double z = -stats::normal_quantile(tail);
  return {{tail, 0.5, 1.0 - tail}, {-z, 0.0, z}};
}

double CentralMoments::quantile_near(double z) const {
  const double skewness = m3 / (m2 * sd());
  const double excess = m4 / (m2 * m2) - 3.0;
  return z + (z * z - 1.0) * skewness / 6.0 + (z * z - 3.0) * z * excess / 24.0 -
         (2.0 * z * z - 5.0) * z * skewness * skewness / 36.0;
}

}  // namespace bagsplit::inference
