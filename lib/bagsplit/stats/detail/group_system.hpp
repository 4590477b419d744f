// The linear algebra behind group_contrasts: the groups' own columns eliminated one by one. Not installed.
#pragma once

#include <Eigen/Core>
#include <cstddef>
#include <optional>
#include <span>
#include <vector>

#include "bagsplit/stats/group_contrasts.hpp"

namespace bagsplit::stats::detail {

// Columns of a group, in this order: own columns that are independent, active shared columns, response.
// All blocks of a group that have the same number of rows: they weigh alike at any lambda.
struct GroupBlocks {
  double rows;
  double count = 0.0;
  Eigen::MatrixXd squares;  // sum of products of the blocks' means
};
struct GroupRows {
  std::vector<Eigen::Index> own;  // kept own columns
  std::vector<int> active;        // shared columns, as indices within the component
  int component = -1;
  Eigen::MatrixXd within;  // cross-products about the block means
  std::vector<GroupBlocks> blocks;
  Eigen::Index rows() const { return static_cast<Eigen::Index>(own.size()); }
};

// Shared columns that groups or knowledge connect.
struct SharedComponent {
  std::vector<int> columns;  // of the spec
  std::vector<bool> left_out;
  Eigen::MatrixXd basis;      // beta = basis gamma: what is free once the balance holds
  Eigen::MatrixXd precision;  // of the knowledge, times 1 (1 / unit^2)
  Eigen::VectorXd pull;       // precision times the known values
  double known_square = 0.0;  // beta0' P beta0 at the knowledge's own best beta0: the quadratic form is about it
  std::size_t known_rank = 0;
};

/// The spec in cross-products, so that an evaluation at lambda does not go over the rows again.
class GroupSystem {
 public:
  /// `spec` must outlive it.
  explicit GroupSystem(const GroupContrastSpec& spec);

  struct Values {
    bool fine = true;
    double log_det = 0.0;
    double rss = 0.0;
    std::vector<Eigen::MatrixXd> spread;  // a component: unscaled covariance of beta
    std::vector<Eigen::VectorXd> beta;
  };

  // At lambda, with the knowledge scaled by the residual variance.
  Values at(double lambda, double residual_variance, bool with_spread) const;

  // Contrast of a group: estimate and unscaled variance; the last element is the mean of all.
  struct Contrast {
    bool exists = false;
    double estimate = 0.0;
    double variance = 0.0;
  };
  std::vector<Contrast> contrasts(double lambda, const Values& values) const;

  std::optional<SharedEstimate> direction(const std::vector<SharedEntry>& row, const Values& values) const;

  // SD of a direction from the knowledge alone.
  std::optional<double> known_sd(const std::vector<SharedEntry>& row) const;

  std::vector<int> confounded() const;

  double degrees() const { return degrees_; }
  std::size_t within() const { return within_; }
  std::size_t between() const { return between_; }
  bool has_knowledge() const { return !spec_.knowledge.empty(); }

 private:
  static Eigen::MatrixXd cross(const GroupRows& g, double lambda, double* log_det);

  std::optional<Eigen::VectorXd> kept_weights(const GroupRows& g) const;

  int root(int column);

  void connect();

  void gather();

  void gather_group(GroupRows& g, std::span<const std::size_t> rows, std::vector<bool>& block_seen);

  // Normal equations of the shared columns with the own ones eliminated, at lambda = 0.
  Eigen::MatrixXd normal_of(std::size_t component) const;

  Eigen::VectorXd sizes_of(std::size_t component) const;

  void find_bases();

  void count();

  const GroupContrastSpec& spec_;
  double origin_ = 0.0;
  std::vector<int> parent_, component_of_, place_of_;
  std::vector<SharedComponent> components_;
  std::vector<GroupRows> groups_;
  std::size_t rows_ = 0, blocks_ = 0, own_rank_ = 0, rank_ = 0, within_ = 0, between_ = 0;
  double degrees_ = 0.0;
};

}  // namespace bagsplit::stats::detail
