#pragma once

#include <array>
#include <cmath>
#include <cstddef>
#include <vector>

#include "bagsplit/basepath/detail/arrow.hpp"
#include "bagsplit/basepath/detail/basis.hpp"
#include "bagsplit/basepath/detail/discretised.hpp"
#include "bagsplit/basepath/detail/stage.hpp"

/// The primal-dual interior-point iteration. Internal to basepath.
namespace bagsplit::basepath::discretised {

inline constexpr double spring = 0.1;
inline constexpr std::size_t heading_at[4] = {0, 2, 4,
                                              6};  // local places of the heading's unknowns; the speed's follow each

/// A path under improvement. Derivatives and the Newton system: newton_system.cpp; steps and line search:
/// interior_point.cpp.
class InteriorPoint {
 public:
  InteriorPoint(const Problem& problem, const Options& options, Path start);

  Path run();

 private:
  using Gradient = arrow::Step;

  // One Gauss point: the state of the path there and the terms of the displacement it adds.
  struct Point {
    Sample s{};
    double weight = 0.0;  // step times Gauss weight
    double forward_x = 0.0, forward_y = 0.0;
    double pull_along = 0.0, pull_across = 0.0;  // of the pull felt here
    stage::System system{};
  };

  // What a step has to improve: how far the constraints are off (sum of absolute values), or the time with its barrier.
  struct Merit {
    double off, objective;
  };

  double total() const;
  // Where a leg's two phases meet is of no consequence unless propulsion jumps there. A weak spring on the log
  // durations of such a leg, from where they stood when the barrier last changed, keeps the point from wandering.
  double keeping(std::size_t p) const { return problem_.stop && p + 2 >= phases_ ? spring : 0.0; }

  bool starts_leg(std::size_t p) const { return p == 0 || problem_.leg_of(p) != problem_.leg_of(p - 1); }

  // Derivatives.
  void measure();
  void place(std::size_t p, std::size_t k);
  void evaluate();
  static void add_gradient(const Point& q, const basis::Basis& b, double h, const double (&limits)[3], Gradient& g);
  double optimality_error() const;
  void assemble();
  void assemble_interval(std::size_t p, std::size_t k);

  // Steps.
  bool move(double error);
  void inner_steps();
  template <class F>
  void for_each(F&& f) const;
  Merit merit() const;
  bool search(double error);
  void trial(double alpha, double dual);

  const Problem& problem_;
  const Options& options_;
  Path path_, old_, trusted_path_;
  std::vector<std::vector<arrow::Bound>> bounds_;
  arrow::System system_;
  std::size_t phases_, intervals_, inequalities_;
  std::vector<std::array<Point, stages>> points_;
  std::vector<Gradient> gradients_;
  std::vector<std::array<stage::State, stages>> steps_;
  std::vector<double> duration_gradient_, kept_duration_;
  std::vector<Vec> short_by_;
  std::vector<std::vector<double>> bound_values_;
  std::vector<std::vector<BoundState>> bound_steps_;
  double share_ = 1.0, mu_ = 0.1, last_shift_ = 0.0;
  double trusted_from_ = 0.0;
  int trust_ = 4;
  std::vector<Merit> filter_;
};

}  // namespace bagsplit::basepath::discretised
