// The linear algebra of a mixed model at given variance parameters. Not installed.
//
//   symbol   meaning                                                     size
//   M        relative covariance factor, block diagonal, b = M u          N x N, one q x q block a term
//   W        var(y)/sigma^2 = I + Z M M' Z'                               n x n, never formed
//   A        M'Z'Z M + I                                                  N x N, sparse
//   Q        orthonormal columns spanning X                               n x p
//   e        least-squares residuals of y on X                            n
//   H        Q'W^-1 Q                                                     p x p
//   rss      min over beta of (e - Q beta)' W^-1 (e - Q beta)
//
// Columns of a correlated term are first made orthonormal within the term (and those of an uncorrelated one scaled), so
// that units and origins of a slope do not matter to the search: Z_inner = Z T^-1, M_inner = T Lambda.
#pragma once

#include <Eigen/Core>
#include <string>
#include <vector>

#include "bagsplit/stats/detail/sparse_factor.hpp"
#include "bagsplit/stats/mixed_model.hpp"

namespace bagsplit::stats::detail {

class MixedSystem {
 public:
  struct Term {
    int columns;  // q
    int levels;
    int first_node;
    bool correlated;
    int first_block;            // of its q x q block in a list of blocks, row by row
    Eigen::MatrixXd transform;  // T
    Eigen::MatrixXd inner;      // Z_inner, n x q
  };

  /// What is wrong with the spec for good; empty if it can be fitted. Fills `status` and `aliased`.
  std::string build(const MixedModelSpec& spec, FitStatus& status, std::vector<Eigen::Index>& aliased);

  /// Evaluates at the blocks M (all terms, row by row). False where A is not positive definite or rss not positive.
  bool evaluate(const std::vector<double>& blocks);
  /// After evaluate: derivatives of log|W|, log|H| and rss with respect to every element of the blocks.
  void differentiate();

  int observations() const { return n_; }
  int fixed_columns() const { return p_; }
  int effects() const { return effects_; }
  int block_size() const { return block_size_; }
  const std::vector<Term>& terms() const { return terms_; }
  double log_det_w() const { return factor_.log_determinant(); }
  double log_det_h() const { return log_det_h_; }
  double log_det_x() const { return 2.0 * log_abs_det_r_; }  // log |X'X|
  double rss() const { return rss_; }
  double total() const { return total_; }  // e'e
  const std::vector<double>& d_log_det_w() const { return d_w_; }
  const std::vector<double>& d_log_det_h() const { return d_h_; }
  const std::vector<double>& d_rss() const { return d_rss_; }

  /// beta on the scale of X, and H^-1 taken to it.
  Eigen::VectorXd fixed_effects() const;
  Eigen::MatrixXd unscaled_covariance() const;
  /// Derivative of unscaled_covariance() with respect to element (i, j) of a term's block. After differentiate().
  Eigen::MatrixXd covariance_slope(std::size_t term, int i, int j) const;
  /// Conditional modes on the scale of the spec, levels x q; and their unscaled conditional variances (diagonal).
  Eigen::MatrixXd effects_of(std::size_t term) const;
  Eigen::MatrixXd conditional_variance(std::size_t term) const;  // after differentiate()
  /// Lambda, Sigma = sigma^2 Lambda Lambda', on the scale of the spec.
  Eigen::MatrixXd relative_factor(std::size_t term) const;
  /// Unscaled variance of the error of predicting k'beta + m'b.
  double prediction_variance(const Eigen::VectorXd& fixed_weights, const std::vector<RandomWeight>& random) const;

 private:
  struct Node {    // a level of a term
    int position;  // of its first effect in the factor
    int columns;
    int block;  // its term's first_block
  };
  struct Pair {     // cross-product of the inner columns of two nodes
    Node row, col;  // `row` the later in the factor
    int data;       // into cross_, q_row x q_col
    int slots;      // into slots_: for each row of the block, where its q_col entries start in the matrix
    int inverse;    // into inverse_slots_: where they start in the inverse (entries row by row)
    bool scalar() const { return row.columns == 1 && col.columns == 1; }
  };
  static std::size_t at(int i) { return static_cast<std::size_t>(i); }
  void order_nodes(const MixedModelSpec& spec);
  void collect_pairs(const MixedModelSpec& spec);
  void build_pattern();
  void fill_matrix();
  void fill_pair(const Pair& pair);
  void fill_diagonal_pair(const Pair& pair);
  void multiply_by_blocks(const std::vector<double>& x, std::vector<double>& out, int width, bool transpose) const;
  template <int Width>
  void differentiate_pairs(const std::vector<double>& mu);
  void differentiate_nodes();
  int position(std::size_t term, int level) const { return node_position_[at(terms_[term].first_node + level)]; }

  int n_ = 0, p_ = 0, effects_ = 0, nodes_ = 0, block_size_ = 0;
  std::vector<Term> terms_;
  std::vector<int> node_term_, node_position_;  // position of a node's first effect in the factor
  std::vector<Node> nodes_in_order_;            // of position
  std::vector<Pair> diagonal_pairs_, pairs_;
  std::vector<double> cross_;
  std::vector<int> slots_;
  std::vector<std::size_t> inverse_slots_;
  std::vector<double> right_;       // Z_inner'[Q, e], effects x (p + 1), factor order
  Eigen::MatrixXd basis_to_x_;      // R^-1 with the column order undone: beta = basis_to_x_ gamma
  Eigen::VectorXd basis_response_;  // Q'y
  double log_abs_det_r_ = 0.0;
  double total_ = 0.0;

  // At the last blocks:
  SparseFactor factor_;
  std::vector<double> blocks_;
  std::vector<double> lower_, diagonal_, rhs_, solution_, combined_, projected_;
  Eigen::MatrixXd h_, h_inverse_;
  Eigen::VectorXd beta_;  // in the basis Q
  double log_det_h_ = 0.0, rss_ = 0.0;
  std::vector<double> d_w_, d_h_, d_rss_;
};

}  // namespace bagsplit::stats::detail
