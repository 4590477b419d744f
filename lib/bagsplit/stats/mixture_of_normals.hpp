#pragma once

#include <span>
#include <vector>

namespace bagsplit::stats {

/// Weighted normals as one distribution. A part with SD 0 is a point.
class MixtureOfNormals {
 public:
  MixtureOfNormals() = default;
  /// @param weights  sum to 1; as many as means and sds.
  MixtureOfNormals(std::span<const double> weights, std::vector<double> means, std::vector<double> sds);
  double mean() const;
  double sd() const;
  double below(double x) const;     ///< P(<= x)
  double quantile(double p) const;  ///< @throws std::domain_error unless 0 < p < 1. Accuracy: 1e-9 of the SD

 private:
  std::vector<double> weights_, means_, sds_;
};

}  // namespace bagsplit::stats
