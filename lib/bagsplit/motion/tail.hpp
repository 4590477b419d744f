#pragma once

/// What late slowing makes of a sprint: the closed form of README.md, in seconds at top speed. Internal to motion.
namespace bagsplit::motion {

/// (1 - exp(-z))/z and its derivative, without cancellation near 0.
double mean_decay(double z);
double mean_decay_slope(double z);

/// u - (1 - exp(-u)) without cancellation.  @param u >= 0.
double covered(double u);

/// The solution of  dv/ds = (left - k w - v)/tau,  dw/ds = v,  w(0) = 0,  v(0) = speed:  all in units of top speed, so
/// that w is in seconds. `left` is 1 where late slowing begins, less further on.
class Tail {
 public:
  /// @param k  late slowing [1/s], 4 k tau < 1 (not checked).
  Tail(double tau, double k, double left, double speed);

  double covered(double s) const;
  double speed(double s) const;
  double gaining(double s) const { return (left_ - speed(s) - k_ * covered(s)) / tau_; }

  /// s >= 0 with covered(s) = w: the slow exponential alone in closed form, then Halley's method, kept inside a
  /// bracket. Where the tail goes on from a full sprint two steps give every digit.
  /// @param w  >= 0, such that k w is below what is left by a good margin (not checked).
  double time(double w) const;

  /// How covered(s) moves with tau, or with k, at the same s, where the tail goes on from a full sprint of `from_s`
  /// seconds: left = 1, speed = 1 - exp(-from_s/tau).
  struct Slopes {
    double by_tau, by_k;
  };
  Slopes slopes(double s, double from_s) const { return {slope(s, from_s, 1.0, 0.0), slope_by_k(s, from_s)}; }
  double slope_by_k(double s, double from_s) const { return slope(s, from_s, 0.0, 1.0); }

 private:
  double slope(double s, double from_s, double by_tau, double by_k) const;

  double tau_, k_, left_;
  double discriminant_, slow_rate_, fast_rate_;  // D; r1, r2
  double slow_, fast_;                           // Q, B
};

}  // namespace bagsplit::motion
