#include "bagsplit/inference/posterior/detail/normal_table.hpp"

#include <cmath>
#include <numbers>

namespace bagsplit::inference {

const NormalTable& NormalTable::get() {
  static const NormalTable table;
  return table;
}

NormalTable::NormalTable() {
  for (std::size_t i = 0; i < count; ++i) {
    const double x = -reach + static_cast<double>(i) * step;
    cdf_[i] = 0.5 * std::erfc(-x / std::numbers::sqrt2);
    density_[i] = std::exp(-0.5 * x * x) / std::sqrt(2.0 * std::numbers::pi);
  }
}

}  // namespace bagsplit::inference
