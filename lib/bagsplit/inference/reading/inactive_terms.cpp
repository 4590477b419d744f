#include "bagsplit/inference/reading/inactive_terms.hpp"

#include <Eigen/Cholesky>

namespace bagsplit::inference {

namespace {

using Eigen::Index;
using Eigen::MatrixXd;

MatrixXd covariance_between(const PlayerData& data, std::span<const std::uint32_t> a,
                            std::span<const std::uint32_t> b) {
  MatrixXd out(static_cast<Index>(a.size()), static_cast<Index>(b.size()));
  for (std::size_t i = 0; i < a.size(); ++i) {
    for (std::size_t j = 0; j < b.size(); ++j) {
      const double correlation = a[i] == b[j] ? 1.0
                                 : data.term_correlation.empty()
                                     ? 0.0
                                     : data.term_correlation[a[i] * data.terms.size() + b[j]];
      out(static_cast<Index>(i), static_cast<Index>(j)) = correlation * data.terms[a[i]].sd * data.terms[b[j]].sd;
    }
  }
  return out;
}

}  // namespace

InactiveTerms::InactiveTerms(const PlayerData& data, std::span<const std::uint32_t> active,
                             std::span<const std::uint32_t> inactive)
    : data_(&data) {
  const MatrixXd between = covariance_between(data, inactive, active);
  gain_ = MatrixXd::Zero(between.rows(), between.cols());
  if (!active.empty() && !inactive.empty()) {
    gain_ = covariance_between(data, active, active).ldlt().solve(between.transpose()).transpose();
  }
  left_ = covariance_between(data, inactive, inactive) - gain_ * between.transpose();
}

MatrixXd InactiveTerms::spread(const MatrixXd& of_active) const {
  const Index q = gain_.cols();
  const Index r = gain_.rows();
  MatrixXd out(q + r, q + r);
  out.topLeftCorner(q, q) = of_active;
  out.bottomLeftCorner(r, q) = gain_ * of_active;
  out.topRightCorner(q, r) = out.bottomLeftCorner(r, q).transpose();
  out.bottomRightCorner(r, r) = left_ + gain_ * of_active * gain_.transpose();
  return out;
}

}  // namespace bagsplit::inference
