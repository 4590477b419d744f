#pragma once

#include <algorithm>
#include <array>
#include <cstddef>
#include <vector>

/// The Newton system of a path: block tridiagonal in the nodes of each phase, bordered by what phases share (heading
/// and speed where they meet), by each phase's log duration, and by the multipliers of where each leg must end and may
/// not go. A leg runs from bag to bag and has one phase or more; a phase has a duration of its own. Internal to
/// basepath.
namespace bagsplit::basepath::arrow {

/// Unknowns of one interval: heading and speed at its start, two inner modes of each, heading and speed at its end, the
/// log duration of the phase, and the two components of the multiplier of the leg's displacement.
inline constexpr std::size_t local = 11;
inline constexpr std::size_t at_end = 6, at_duration = 8, at_pull = 9;

using Vec = std::array<double, 2>;

/// normal . position <= limit at a node: its multiplier acts on every interval of the leg before the node.
struct Bound {
  std::size_t phase, node;
  Vec normal;
  double limit;

  bool ahead_of(std::size_t p, std::size_t k) const { return p < phase || (p == phase && k < node); }
};

struct Interval {
  double matrix[local][local];  ///< symmetric, both triangles
  double rhs[local];            ///< minus the gradient; not read for the pull
};

using Step = std::array<double, local>;

class System {
 public:
  /// @param leg_of  the leg of each phase, ascending.
  /// @param heading_free, speed_free  for each of the phases + 1 meeting points: is it an unknown there?
  /// @param bounds  for each leg.
  System(std::vector<std::size_t> leg_of, std::size_t intervals, const std::vector<bool>& heading_free,
         const std::vector<bool>& speed_free, std::vector<std::vector<Bound>> bounds);

  Interval& interval(std::size_t phase, std::size_t k) { return intervals_[phase * count_ + k]; }
  /// What a phase adds by itself: second derivative and minus gradient of its log duration.
  void set_phase(std::size_t phase, double second, double rhs) { own_[phase] = {second, rhs}; }
  /// Minus the gradient of a leg's pull.
  void set_pull(std::size_t leg, const Vec& rhs) { pull_rhs_[leg] = rhs; }
  void set_bound(std::size_t leg, std::size_t j, double diagonal, double rhs) {
    bound_terms_[leg][j] = {diagonal, rhs};
  }

  /// Factors with `shift` added to the diagonal of the path's unknowns, and solves.
  /// @return false unless the inertia is that of a minimum: every block of nodes positive definite, and in the border
  /// as many
  ///         negative eigenvalues as multipliers.
  /// Cost: about 900 multiplications an interval without bounds.
  bool solve(double shift);

  const Step& step(std::size_t phase, std::size_t k) const { return steps_[phase * count_ + k]; }
  double bound_step(std::size_t leg, std::size_t j) const { return solution_[bound_at_[leg] + j]; }

  /// Largest entry of a gradient given by intervals (unknowns that intervals share are summed) and by phases (log
  /// duration).
  double largest(const std::vector<Step>& gradient, const std::vector<double>& duration) const;

 private:
  struct Own {
    double second, rhs;
  };
  struct Factor {
    double inner[4][4], inner_kept[4][7], inner_rhs[4];
    double node[2][2], node_next[2][2], node_rhs[2];
  };
  struct BoundTerm {
    double diagonal, rhs;
  };
  /// What is left of an interval without its inner modes: heading and speed at start and end, log duration, pull.
  struct Kept {
    double matrix[7][7], rhs[7];
  };
  /// A node between two intervals while it is eliminated: against itself, the next node, and the border.
  struct Node {
    double diag[2][2], to_next[2][2], rhs[2];
    std::vector<double> edge;  ///< 2 x border

    void clear(std::size_t border) {
      std::fill_n(&diag[0][0], 4, 0.0);
      std::fill_n(&to_next[0][0], 4, 0.0);
      std::fill_n(rhs, 2, 0.0);
      edge.assign(2 * border, 0.0);
    }
  };

  bool eliminate_phase(std::size_t phase, double shift);
  static bool eliminate_inner(const Interval& in, double shift, Factor& f, Kept& kept_block);
  /// Adds a row's entries 4, 5, 6 (log duration, pull) to `out` over the border. The pull an interval feels is the
  /// leg's own minus that of the bounds ahead of it: the columns of those follow from two.
  void spread(std::size_t phase, std::size_t k, const double* row7, double* out) const;
  /// The same for row `a` of the border itself, on both sides of the diagonal.
  void spread_on_border(std::size_t phase, std::size_t k, std::size_t a, const double* row7);
  void duration_and_pull_to_border(std::size_t phase, std::size_t k, const Kept& block);
  void add_start(std::size_t phase, std::size_t k, const Kept& block, double shift, Node& node, Node& next);
  void add_end(std::size_t phase, std::size_t k, const Kept& block, Node& next);
  bool eliminate_node(std::size_t phase, std::size_t k, const Node& node, Node& next);
  void border_to_matrix(std::size_t phase);
  void recover_phase(std::size_t phase);
  std::size_t border_size(std::size_t phase) const { return 7 + bounds_[leg_of_[phase]].size(); }
  /// Place of a local border unknown in the whole, or -1 where it is fixed.
  std::ptrdiff_t place(std::size_t phase, std::size_t a) const;

  std::vector<std::size_t> leg_of_;
  std::size_t phases_, legs_, count_;
  std::vector<std::vector<Bound>> bounds_;
  std::vector<std::ptrdiff_t> heading_at_, speed_at_;
  std::size_t duration_at_ = 0, pull_at_ = 0, size_ = 0, multipliers_ = 0;
  std::vector<std::size_t> bound_at_;
  std::vector<Interval> intervals_;
  std::vector<Factor> factors_;
  std::vector<std::vector<double>> edges_;  ///< each phase: interval x 2 x border
  std::vector<Own> own_;
  std::vector<Vec> pull_rhs_;
  std::vector<std::vector<BoundTerm>> bound_terms_;
  std::vector<Step> steps_;
  std::vector<double> matrix_, solution_;
  std::vector<double> border_, border_rhs_, scratch_;
  Node node_, next_;
};

}  // namespace bagsplit::basepath::arrow
