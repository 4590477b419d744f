#pragma once

#include <cmath>
#include <cstddef>

#include "bagsplit/basepath/detail/friction.hpp"

/// The friction limit at one instant as the interior-point method sees it: inequalities c <= 0 with slacks and
/// multipliers, condensed into a small Newton system in (u, omega, a) = (speed, turning rate, change of speed).
/// Internal to basepath.
///
/// Point mass: c1 = (a^2 + (u omega)^2)/r^2 - 1. Runner: with w, the share of friction that turning leaves,
///   c1 = w^2 + (u omega/L)^2 - 1,   c2 = a - w P+ - (P - P+),   c3 = -a - w B + (P - P+),
/// P = (V - u)/tau, P+ = P but for late slowing (friction.hpp).
/// Eliminating w gives the half-ellipses of friction.hpp exactly. Kept, it removes the kink at a = 0 and the division
/// by P -> 0 near top speed, with which the iteration crawls or fails once D/(V tau) > 2 (measured).
namespace bagsplit::basepath::stage {

inline constexpr std::size_t most = 3;  ///< inequalities at an instant

struct State {
  double w = 0.0;
  double slack[most] = {1.0, 1.0, 1.0};
  double weight[most] = {0.0, 0.0, 0.0};  ///< multipliers, >= 0
};

struct System {
  double residual[most];     ///< c + slack
  double gradient[most][4];  ///< of c in (u, omega, a, w)
  double lagrangian[3];      ///< sum of weight times gradient in (u, omega, a)
  double lagrangian_w;
  double matrix[3][3];  ///< after eliminating slacks, weights and w
  double newton[3];     ///< the gradient that goes with it
  double coupling[3];   ///< row of w before its elimination
  double pivot;
  double newton_w;
};

inline std::size_t count(const friction::Model& m) {
  return m.point_mass ? 1 : 3;
}

inline void values(const friction::Model& m, double u, double omega, double a, double w, double (&c)[most]) {
  if (m.point_mass) {
    c[0] = (a * a + u * u * omega * omega) / (m.radius * m.radius) - 1.0;
    return;
  }
  const double n = u * omega / m.lateral;
  c[0] = w * w + n * n - 1.0;
  const double drift = m.drift(u);
  c[1] = a - w * m.push(u).value - drift;
  c[2] = -a - w * m.braking + drift;
}

/// Fills the system at (u, omega, a) and a state.  @param barrier  mu times this stage's share, > 0.
inline void evaluate(const friction::Model& m, double u, double omega, double a, const State& z, double barrier,
                     System& s) {
  double c[most] = {};
  values(m, u, omega, a, z.w, c);
  double(&g)[most][4] = s.gradient;
  double(&k)[3][3] = s.matrix;
  const double scale = m.point_mass ? 1.0 / (m.radius * m.radius) : 1.0 / (m.lateral * m.lateral);
  g[0][0] = 2.0 * scale * u * omega * omega;
  g[0][1] = 2.0 * scale * u * u * omega;
  const double z1 = 2.0 * scale * z.weight[0];
  k[0][0] = z1 * omega * omega;
  k[1][0] = 2.0 * z1 * u * omega;
  k[1][1] = z1 * u * u;
  k[2][0] = k[2][1] = 0.0;
  if (m.point_mass) {
    g[0][2] = 2.0 * scale * a;
    g[0][3] = 0.0;
    k[2][2] = z1;
    s.coupling[0] = 0.0;
    s.pivot = 1.0;
  } else {
    const double rate = 1.0 / m.time_constant;
    const friction::Model::Push push = m.push(u);
    g[0][2] = 0.0;
    g[0][3] = 2.0 * z.w;
    g[1][0] = (1.0 - (1.0 - z.w) * push.slope) * rate;
    g[1][1] = 0.0;
    g[1][2] = 1.0;
    g[1][3] = -push.value;
    g[2][0] = (push.slope - 1.0) * rate;
    g[2][1] = 0.0;
    g[2][2] = -1.0;
    g[2][3] = -m.braking;
    k[2][2] = 0.0;
    k[0][0] += ((1.0 - z.w) * z.weight[1] - z.weight[2]) * push.curvature * rate * rate;
    s.coupling[0] = z.weight[1] * push.slope * rate;
    s.pivot = 2.0 * z.weight[0];
  }
  s.coupling[1] = s.coupling[2] = 0.0;
  s.lagrangian_w = s.newton_w = 0.0;
  for (std::size_t i = 0; i < 3; ++i) {
    s.lagrangian[i] = s.newton[i] = 0.0;
  }
  const std::size_t n = count(m);
  for (std::size_t q = 0; q < n; ++q) {
    s.residual[q] = c[q] + z.slack[q];
    const double inverse = 1.0 / z.slack[q];
    const double ratio = z.weight[q] * inverse;
    const double push = barrier * inverse + ratio * s.residual[q];
    for (std::size_t i = 0; i < 3; ++i) {
      s.lagrangian[i] += z.weight[q] * g[q][i];
      s.newton[i] += push * g[q][i];
      const double r = ratio * g[q][i];
      s.coupling[i] += r * g[q][3];
      for (std::size_t j = 0; j <= i; ++j) {
        k[i][j] += r * g[q][j];
      }
    }
    s.lagrangian_w += z.weight[q] * g[q][3];
    s.newton_w += push * g[q][3];
    if (!m.point_mass) {
      s.pivot += ratio * g[q][3] * g[q][3];
    }
  }
  const double inverse = 1.0 / s.pivot;
  for (std::size_t i = 0; i < 3; ++i) {
    s.newton[i] -= s.coupling[i] * inverse * s.newton_w;
    for (std::size_t j = 0; j <= i; ++j) {
      k[i][j] -= s.coupling[i] * inverse * s.coupling[j];
      k[j][i] = k[i][j];
    }
  }
}

/// The step of w, slacks and weights that belongs to a step d of (u, omega, a); the step is returned in `out`.
inline void back_substitute(const friction::Model& m, const System& s, const State& z, double barrier,
                            const double (&d)[3], State& out) {
  out.w = 0.0;
  if (!m.point_mass) {
    out.w = -(s.newton_w + s.coupling[0] * d[0] + s.coupling[1] * d[1] + s.coupling[2] * d[2]) / s.pivot;
  }
  const std::size_t n = count(m);
  for (std::size_t q = 0; q < n; ++q) {
    const double* g = s.gradient[q];
    out.slack[q] = -s.residual[q] - (g[0] * d[0] + g[1] * d[1] + g[2] * d[2] + g[3] * out.w);
    out.weight[q] = (barrier - z.weight[q] * out.slack[q]) / z.slack[q] - z.weight[q];
  }
}

}  // namespace bagsplit::basepath::stage
