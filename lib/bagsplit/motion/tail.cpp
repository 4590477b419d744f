#include "bagsplit/motion/tail.hpp"

#include <cmath>
#include <limits>

namespace bagsplit::motion {

double mean_decay(double z) {
  return std::fabs(z) > 1e-8 ? -std::expm1(-z) / z : 1.0 - 0.5 * z;
}

double mean_decay_slope(double z) {
  if (std::fabs(z) > 1e-2) {
    return (z * std::exp(-z) + std::expm1(-z)) / (z * z);
  }
  return -0.5 + z * (1.0 / 3.0 - z * (1.0 / 8.0 - z * (1.0 / 30.0 - z / 144.0)));
}

double covered(double u) {
  if (u > 0.5) {
    return u + std::expm1(-u);
  }
  double term = u * u / 2.0;  // the series u^2/2 - u^3/6 + ..., summed until it stops changing
  double sum = term;
  for (int k = 3; k < 18; ++k) {
    term *= -u / k;
    sum += term;
  }
  return sum;
}

Tail::Tail(double tau, double k, double left, double speed)
    : tau_(tau),
      k_(k),
      left_(left),
      discriminant_(std::sqrt(1.0 - 4.0 * k * tau)),
      slow_rate_(2.0 * k / (1.0 + discriminant_)),
      fast_rate_((1.0 + discriminant_) / (2.0 * tau)),
      slow_((left - speed * slow_rate_ * tau) / discriminant_),
      fast_(-(left - speed + speed * slow_rate_ * tau) / (fast_rate_ * discriminant_)) {}

double Tail::covered(double s) const {
  return slow_ * s * mean_decay(slow_rate_ * s) - fast_ * std::expm1(-fast_rate_ * s);
}

double Tail::speed(double s) const {
  return slow_ * std::exp(-slow_rate_ * s) + fast_ * fast_rate_ * std::exp(-fast_rate_ * s);
}

double Tail::time(double w) const {
  if (w <= 0.0) {
    return 0.0;
  }
  const double alone = (w - fast_) / slow_;
  const double z = slow_rate_ * alone;
  double s = z < 1.0 && alone > 0.0 ? (z > 1e-9 ? -std::log1p(-z) / slow_rate_ : alone * (1.0 + 0.5 * z)) : tau_;
  double low = 0.0;
  double high = std::numeric_limits<double>::infinity();
  for (int i = 0; i < 100; ++i) {
    const double f = covered(s) - w;
    const double v = speed(s);
    (f > 0.0 ? high : low) = s;
    double next = s - f * v / (v * v - 0.5 * f * gaining(s));
    if (!(next > low && next < high) && f != 0.0) {
      next = high < std::numeric_limits<double>::infinity() ? 0.5 * (low + high) : 2.0 * s + tau_;
    }
    const double step = next - s;
    s = next;
    if (std::fabs(step) <= 1e-6 * s) {  // the error left is the cube of it
      break;
    }
  }
  return s;
}

// One of by_tau and by_k is 1, the other 0.
double Tail::slope(double s, double from_s, double by_tau, double by_k) const {
  const double e = std::exp(-from_s / tau_);
  const double p = 1.0 - e;
  const double d = discriminant_;
  const double q = 4.0 * k_ * tau_ / ((1.0 + d) * (1.0 + d));
  const double z = slow_rate_ * s;
  const double decayed = std::exp(-fast_rate_ * s);
  const double d_ktau = k_ * by_tau + tau_ * by_k;
  const double d_d = -2.0 * d_ktau / d;
  const double d_slow_rate = (2.0 * by_k - slow_rate_ * d_d) / (1.0 + d);
  const double d_fast_rate = d_d / (2.0 * tau_) - fast_rate_ * by_tau / tau_;
  const double d_q = 4.0 * d_ktau / ((1.0 + d) * (1.0 + d)) - 2.0 * q * d_d / (1.0 + d);
  const double d_e = e * from_s / (tau_ * tau_) * by_tau;
  const double d_slow =
      -(-d_e * slow_rate_ * tau_ + p * (d_slow_rate * tau_ + slow_rate_ * by_tau)) / d - slow_ * d_d / d;
  const double d_fast = -(d_e + d_q) * tau_ / d - (e + q) * by_tau / d + (e + q) * tau_ * d_d / (d * d);
  return d_slow * s * mean_decay(z) + slow_ * s * s * mean_decay_slope(z) * d_slow_rate + d_fast * (1.0 - decayed) +
         fast_ * s * decayed * d_fast_rate;
}

}  // namespace bagsplit::motion
